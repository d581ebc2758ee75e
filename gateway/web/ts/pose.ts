// Pose estimation in the page, behind a small interface: load an estimator,
// give it a video frame, get points. The estimator is an add-on that the
// gateway may or may not have; pictures never leave the page.

/** Keypoints of one picture: the 33-landmark topology, as the contract's frames hold them. */
export interface Keypoints { image: number[]; world: number[] }

/** Estimator turns the video's present picture into points; undefined when nobody is seen. */
export interface Estimator {
  estimate(video: HTMLVideoElement): Promise<Keypoints | undefined>;
  close(): void;
}

/** Where the add-on lies when it is installed, relative to the page. */
export const addOn = "addon/pose/";

export class NoAddOn extends Error {}

interface Landmark { x: number; y: number; z: number; visibility?: number }
interface Results { poseLandmarks?: Landmark[]; poseWorldLandmarks?: Landmark[] }
interface Solution {
  setOptions(o: object): void;
  onResults(f: (r: Results) => void): void;
  initialize(): Promise<void>;
  send(input: { image: HTMLVideoElement }): Promise<void>;
  close(): Promise<void>;
}
declare global { interface Window { Pose?: new (o: { locateFile(name: string): string }) => Solution } }

/** loadEstimator loads the add-on; it fails with NoAddOn where there is none. */
export async function loadEstimator(): Promise<Estimator> {
  const probe = await fetch(addOn + "pose.js", { method: "HEAD" }).catch(() => undefined);
  if (!probe?.ok) throw new NoAddOn("no pose add-on on this gateway");
  if (!window.Pose) await script(addOn + "pose.js");
  if (!window.Pose) throw new NoAddOn("the pose add-on is not the one expected");
  const solution = new window.Pose({ locateFile: (name) => addOn + name });
  // Smoothing in the page would delay the points; the service filters, as it knows the times.
  solution.setOptions({ modelComplexity: 1, smoothLandmarks: false, enableSegmentation: false, useCpuInference: !hasGraphics() });
  let latest: Results = {};
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

function keypoints(r: Results, width: number, height: number): Keypoints | undefined {
  if (!r.poseLandmarks?.length) return undefined;
  const score = (l: Landmark) => Math.max(0, Math.min(1, l.visibility ?? 0));
  return {
    image: r.poseLandmarks.flatMap((l) => [l.x * width, l.y * height, score(l)]),
    world: (r.poseWorldLandmarks ?? []).flatMap((l) => [l.x, l.y, l.z, score(l)]),
  };
}

function script(src: string): Promise<void> {
  return new Promise((resolve, reject) => {
    const s = document.createElement("script");
    s.src = src;
    s.onload = () => resolve();
    s.onerror = () => reject(new NoAddOn("the pose add-on did not load"));
    document.head.append(s);
  });
}

/** hasGraphics says whether WebGL is done by hardware; by software it is slower than the processor path. */
function hasGraphics(): boolean {
  const gl = document.createElement("canvas").getContext("webgl2");
  const info = gl?.getExtension("WEBGL_debug_renderer_info");
  const name = gl && info ? String(gl.getParameter(info.UNMASKED_RENDERER_WEBGL)) : "";
  return !!gl && !/swiftshader|llvmpipe|software/i.test(name);
}
