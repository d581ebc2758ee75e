// The camera in the place "try": open it, see what can be measured from where
// the phone stands, then stream points. Pictures never leave the page.
import { ServiceError } from "./courtkin.js";
import { amount, at, el, why, words } from "./kit.js";
import { addOn, loadEstimator, NoAddOn } from "./pose.js";
const checkSeconds = 1.5; // of frames for a placement check
const leastScore = 0.5; // of the wrists, below which the player is not in the picture
/** What body points alone cannot tell, said before anything is measured. */
export const withoutRacket = "The camera finds your body, not your racket: there will be no racket-tip speed, no lag and no racket path. "
    + "Hand speed, turns, spacing, timing and posture remain. For the racket, stream points from an app that tracks it.";
export class CameraPlace {
    session;
    sink;
    estimator;
    stream;
    lock;
    index = 0;
    lastUs = -1;
    recent = [];
    mode = "off";
    clockOffset; // µs: performance clock less media time
    constructor(session, sink) {
        this.session = session;
        this.sink = sink;
        at("camera-open").addEventListener("click", () => void this.open());
        at("camera-check").addEventListener("click", () => void this.check());
        at("camera-start").addEventListener("click", () => this.start());
        at("camera-close").addEventListener("click", () => { this.sink.stop(); this.close(); });
        document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible" && this.mode === "practice")
            void this.stayAwake(); });
    }
    /** show opens the panel and says what can be done here. */
    async show() {
        const panel = at("camera-panel");
        panel.hidden = false;
        at("camera-cost").textContent = withoutRacket;
        panel.scrollIntoView({ block: "start" });
        const obstacle = this.obstacle();
        at("camera-open").disabled = obstacle !== "";
        this.say(obstacle || "Stand the phone three to six metres away, the whole player in the picture, and open the camera.");
        if (!obstacle)
            await this.probe();
    }
    obstacle() {
        if (!isSecureContext)
            return "This browser gives the camera only to pages over HTTPS or from this same machine. Open the page by https, or by localhost.";
        if (!navigator.mediaDevices?.getUserMedia)
            return "This browser has no camera for pages.";
        if (!("requestVideoFrameCallback" in HTMLVideoElement.prototype))
            return "This browser does not tell when a picture was taken; a newer one does.";
        return "";
    }
    async probe() {
        const answer = await fetch(addOn + "pose.js", { method: "HEAD" }).catch(() => undefined);
        if (answer?.ok)
            return;
        at("camera-open").disabled = true;
        at("camera-absent").hidden = false;
        this.say("This gateway has no pose add-on, so the page cannot find a player in the picture.");
    }
    async open() {
        this.say("Opening the camera …");
        try {
            this.stream = await navigator.mediaDevices.getUserMedia({
                video: { facingMode: { ideal: "environment" }, width: { ideal: 1280 }, frameRate: { ideal: 60 } }, audio: false,
            });
        }
        catch (e) {
            this.say(refused(e));
            return;
        }
        const video = at("camera-video");
        video.srcObject = this.stream;
        await video.play();
        this.stream.getVideoTracks()[0]?.addEventListener("ended", () => { this.say("The camera was taken away."); this.close(); });
        this.say("Loading the pose estimator …");
        try {
            this.estimator = await loadEstimator();
        }
        catch (e) {
            this.say(e instanceof NoAddOn ? e.message : `The pose estimator did not start: ${e.message}`);
            this.close();
            return;
        }
        this.mode = "looking";
        this.buttons(true);
        this.say("One player in the picture, head to feet. Then check the place, or start.");
        this.watch(video);
    }
    buttons(on) {
        at("camera-open").hidden = on;
        for (const id of ["camera-check", "camera-start"])
            at(id).disabled = !on;
    }
    /** watch estimates the newest picture over and over, each with its capture time. */
    watch(video) {
        const estimator = this.estimator;
        const again = () => { if (this.estimator === estimator && this.mode !== "off")
            video.requestVideoFrameCallback(each); };
        const each = async (_now, meta) => {
            const timeUs = this.captureTime(meta);
            try {
                const points = await estimator?.estimate(video);
                if (this.estimator === estimator)
                    this.take(points, timeUs);
            }
            catch (e) {
                this.say(`The pose estimator failed: ${e.message}`);
                this.close();
            }
            again();
        };
        again();
    }
    /** captureTime is when the sensor took the picture, µs, on one clock throughout. */
    captureTime(meta) {
        if (meta.captureTime !== undefined)
            return Math.round(meta.captureTime * 1000);
        this.clockOffset ??= meta.expectedDisplayTime * 1000 - meta.mediaTime * 1e6;
        return Math.round(meta.mediaTime * 1e6 + this.clockOffset);
    }
    take(points, timeUs) {
        if (timeUs <= this.lastUs)
            return; // the same picture again
        this.lastUs = timeUs;
        const frame = { index: this.index++, timeUs, camera: 0, image: points?.image ?? [], world: points?.world ?? [] };
        this.hint(points);
        this.recent.push(frame);
        this.recent = this.recent.filter((f) => timeUs - Number(f.timeUs) < checkSeconds * 1e6);
        if (this.mode === "practice")
            this.sink.frame(frame);
    }
    /** hint says whether the player is in the picture; that 33 points came back says nothing. */
    hint(points) {
        const score = (i) => points?.image[3 * i + 2] ?? 0;
        const seen = points !== undefined && Math.min(score(15), score(16), score(27), score(28)) >= leastScore;
        at("camera-seen").textContent = seen ? "Player seen, hands and feet." : points ? "Hands or feet are not seen." : "No player seen.";
        at("camera-seen").classList.toggle("is-bad", !seen);
    }
    setup() {
        const video = at("camera-video"), rate = this.stream?.getVideoTracks()[0]?.getSettings().frameRate ?? 0;
        return {
            layout: "POINT_LAYOUT_BLAZEPOSE_33", worldAxes: "WORLD_AXES_CAMERA", withTrace: true,
            player: { dominantHand: at("player-hand").value, statureM: Number(at("player-stature").value) / 100 || 0 },
            cameras: [{ widthPx: video.videoWidth, heightPx: video.videoHeight, captureRateHz: rate, slowMotionFactor: 1, viewpoint: at("camera-from").value }],
        };
    }
    /** check asks the service what can be measured from here. */
    async check() {
        this.say("Checking the place …");
        try {
            showCheck(await this.session.service.checkSetup(this.setup(), this.recent), this.session);
            this.say("This is what can be measured from here.");
        }
        catch (e) {
            this.say(`The place cannot be checked: ${e instanceof ServiceError ? e.message : String(e)}`);
        }
    }
    start() {
        const setup = this.setup();
        this.sink.start(setup);
        this.index = 0;
        this.mode = "practice";
        void this.stayAwake();
        this.say("Practice runs. Play; the cards come below.");
    }
    async stayAwake() {
        try {
            this.lock = await navigator.wakeLock.request("screen");
        }
        catch { /* low battery, or not offered: the practice goes on */ }
    }
    /** release ends a practice and keeps the camera open. */
    release() {
        if (this.mode === "practice")
            this.mode = "looking";
        void this.lock?.release();
        this.lock = undefined;
    }
    close() {
        this.release();
        this.mode = "off";
        this.estimator?.close();
        this.estimator = undefined;
        this.stream?.getTracks().forEach((t) => t.stop());
        this.stream = undefined;
        this.clockOffset = undefined;
        this.recent = [];
        at("camera-video").srcObject = null;
        this.buttons(false);
    }
    say(text) { at("camera-status").textContent = text; }
}
function refused(e) {
    const said = {
        NotAllowedError: "The camera was refused. Allow it for this page in the browser's settings.",
        NotFoundError: "No camera was found.",
        NotReadableError: "The camera is in use by another program.",
        OverconstrainedError: "The camera cannot do what was asked.",
    };
    return said[e.name] ?? `The camera did not open: ${e.message}`;
}
/** showCheck lists what is measurable from a place, in three groups, and what would help. */
function showCheck(check, session) {
    const group = (title, grade, say) => {
        const found = check.expected.filter((m) => m.grade === grade);
        return el("details", { open: grade !== "GRADE_NOT_MEASURABLE" }, el("summary", {}, `${title}: ${found.length}`), el("ul", {}, ...found.map((m) => el("li", {}, session.titles.of(m.name) + say(m)))));
    };
    const error = (m) => (m.sd ? ` (± ${amount(m.sd, m.unit, m.sd)})` : "");
    // A closer phone would not show this estimator the racket: the page has said so already.
    const advice = check.advice.filter((c) => c.name !== "capture_racket");
    at("camera-result").replaceChildren(...advice.map((c) => el("p", { class: "warning" }, c.text + " " + c.drill)), group("Measured well", "GRADE_GOOD", error), group("Roughly", "GRADE_ROUGH", error), group("Not from here", "GRADE_NOT_MEASURABLE", (m) => (m.reason ? ": " + why(m.reason) : "")), el("p", { class: "how" }, check.capture ? `Seen from ${words(check.capture.viewpoint)}, ${check.capture.frameRateHz.toFixed(0)} frames a second.` : ""));
}
