// Pose estimation in the page, behind a small interface: load an estimator,
// give it a video frame, get points. The estimator is an add-on that the
// gateway may or may not have; pictures never leave the page.
/** Where the add-on lies when it is installed, relative to the page. */
export const addOn = "addon/pose/";
export class NoAddOn extends Error {
}
/** loadEstimator loads the add-on; it fails with NoAddOn where there is none. */
export async function loadEstimator() {
    const probe = await fetch(addOn + "pose.js", { method: "HEAD" }).catch(() => undefined);
    if (!probe?.ok)
        throw new NoAddOn("no pose add-on on this gateway");
    if (!window.Pose)
        await script(addOn + "pose.js");
    if (!window.Pose)
        throw new NoAddOn("the pose add-on is not the one expected");
    const solution = new window.Pose({ locateFile: (name) => addOn + name });
    // Smoothing in the page would delay the points; the service filters, as it knows the times.
    solution.setOptions({ modelComplexity: 1, smoothLandmarks: false, enableSegmentation: false, useCpuInference: !hasGraphics() });
    let latest = {};
    solution.onResults((r) => { latest = r; });
    await solution.initialize();
    return {
        async estimate(video) {
            latest = {};
            await solution.send({ image: video });
            return keypoints(latest, video.videoWidth, video.videoHeight);
        },
        close() { void solution.close(); },
    };
}
function keypoints(r, width, height) {
    if (!r.poseLandmarks?.length)
        return undefined;
    const score = (l) => Math.max(0, Math.min(1, l.visibility ?? 0));
    return {
        image: r.poseLandmarks.flatMap((l) => [l.x * width, l.y * height, score(l)]),
        world: (r.poseWorldLandmarks ?? []).flatMap((l) => [l.x, l.y, l.z, score(l)]),
    };
}
function script(src) {
    return new Promise((resolve, reject) => {
        const s = document.createElement("script");
        s.src = src;
        s.onload = () => resolve();
        s.onerror = () => reject(new NoAddOn("the pose add-on did not load"));
        document.head.append(s);
    });
}
/** hasGraphics says whether WebGL is done by hardware; by software it is slower than the processor path. */
function hasGraphics() {
    const gl = document.createElement("canvas").getContext("webgl2");
    const info = gl?.getExtension("WEBGL_debug_renderer_info");
    const name = gl && info ? String(gl.getParameter(info.UNMASKED_RENDERER_WEBGL)) : "";
    return !!gl && !/swiftshader|llvmpipe|software/i.test(name);
}
