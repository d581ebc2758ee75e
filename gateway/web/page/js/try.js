// The place "try": a practice streams through the real connection at true
// speed, from the made recording, a file, or the camera.
import { LivePractice, number, ServiceError } from "./courtkin.js";
import { CameraPlace } from "./camera.js";
import { card } from "./card.js";
import { mostBytes, readClip } from "./files.js";
import { flat, poseOf, Stage } from "./figure.js";
import { announce, at, calm, words } from "./kit.js";
import { closing, far, wished } from "./far.js";
import { LiveDisplay } from "./live.js";
import { canSpeak, say, speaking } from "./speak.js";
const madePractice = "demo/practice.json";
export class TryPlace {
    session;
    stage = new Stage(at("stage"));
    display = new LiveDisplay();
    camera;
    live;
    player;
    last;
    constructor(session) {
        this.session = session;
        at("play").addEventListener("click", () => void this.playMade());
        at("pause").addEventListener("click", () => this.player?.toggle());
        at("stop").addEventListener("click", () => this.stop());
        at("turn-left").addEventListener("click", () => this.stage.turn(-0.35));
        at("turn-right").addEventListener("click", () => this.stage.turn(0.35));
        this.stage.onturn = () => this.redraw();
        addEventListener("resize", () => this.redraw());
        this.spoken();
        closing();
        this.files();
        this.camera = new CameraPlace(session, {
            start: (setup) => this.open(setup, "camera"),
            frame: (frame) => this.frame(frame),
            stop: () => this.stop(),
        });
        at("camera").addEventListener("click", () => void this.camera.show());
    }
    spoken() {
        const box = at("speak");
        box.disabled = !canSpeak();
        box.addEventListener("change", () => speaking(box.checked));
    }
    files() {
        const input = at("file"), zone = at("place-try");
        at("open-file").addEventListener("click", () => input.click());
        input.addEventListener("change", () => { if (input.files?.[0])
            void this.playFile(input.files[0]); input.value = ""; });
        zone.addEventListener("dragover", (e) => { e.preventDefault(); zone.classList.add("dropping"); });
        zone.addEventListener("dragleave", () => zone.classList.remove("dropping"));
        zone.addEventListener("drop", (e) => {
            e.preventDefault();
            zone.classList.remove("dropping");
            if (e.dataTransfer?.files[0])
                void this.playFile(e.dataTransfer.files[0]);
        });
    }
    async playMade() {
        this.status("Fetching the made practice …");
        try {
            const answer = await fetch(madePractice);
            if (!answer.ok)
                throw new Error(`status ${answer.status}`);
            this.play(readClip(await answer.text()), "made");
        }
        catch (e) {
            this.status(`The made practice cannot be had: ${e.message}`);
        }
    }
    async playFile(file) {
        try {
            if (file.size > mostBytes)
                throw new Error("larger than 200 MB; analyse it with the command line");
            this.play(readClip(await file.text()), file.name);
        }
        catch (e) {
            this.status(`${file.name} cannot be played: ${e.message}`);
        }
    }
    play(clip, source) {
        this.open({ ...clip.setup, withTrace: true }, source);
        this.player = new Player(clip.frames, (f) => this.frame(f), () => void this.finish());
        this.player.onpause = (paused) => { at("pause").textContent = paused ? "Go on" : "Pause"; };
        this.player.toggle();
    }
    /** open starts a live practice; a running one is given up. */
    open(setup, source) {
        this.stop();
        this.answered = false;
        this.session.player = setup.player;
        this.display.reset();
        this.stage.reset();
        this.last = undefined;
        at("cards").replaceChildren();
        at("place-try").dataset.running = source === "camera" ? "camera" : "clip";
        this.live = new LivePractice({
            url: this.session.service.liveURL(), setup, practiceId: source, token: () => this.session.key,
            on: {
                reading: (r) => this.display.reading(r),
                event: (e) => { this.display.event(e); if (calm())
                    this.redraw(); },
                swing: (s) => this.settled(s),
                warning: (w) => this.status(w.text),
                state: (s, why) => this.state(s, why),
            },
        });
        this.setup = setup;
    }
    setup = {};
    frame(frame) {
        this.live?.push(frame);
        this.last = { setup: this.setup, frame };
        if (calm() || this.drawing)
            return;
        this.drawing = true;
        requestAnimationFrame(() => { this.drawing = false; this.redraw(); });
    }
    drawing = false;
    /** redraw draws the newest frame; with less motion wished, at each event alone. */
    redraw() {
        if (!this.last)
            return;
        const { setup, frame } = this.last, pose = poseOf(setup, frame), image = flat(frame);
        if (image) {
            const c = setup.cameras?.[frame.camera ?? 0];
            this.stage.size();
            this.stage.fit(c?.widthPx || 1280, c?.heightPx || 720);
        }
        else {
            this.stage.size();
            this.stage.follow(pose);
            if (setup.worldAxes === "WORLD_AXES_COURT")
                this.stage.court();
        }
        if (!calm() && !image)
            this.stage.trail(pose, number(frame.timeUs) / 1e6);
        this.stage.draw(pose);
        this.stage.ball(pose);
    }
    settled(swing) {
        this.session.add(swing);
        const n = this.session.ballNumber(swing);
        at("cards").prepend(card(swing, n, this.session.titles));
        const cue = swing.cues[0];
        announce(`Ball ${n}: ${words(swing.stroke)}. ${cue?.text ?? ""}`);
        if (cue)
            say(cue.text);
        if (wished())
            far(swing, n);
    }
    state(s, why) {
        const running = this.player?.ended ? "settling the last swing …" : "streaming";
        const said = {
            connecting: "Connecting …", open: `Connected: ${running}`, waiting: `Connection lost (${why}); trying again. Nothing is lost.`,
            finished: "Done. Look at the balls under practice, or put two side by side under compare.", failed: `Stopped: ${why}`,
        };
        at("place-try").dataset.state = s;
        this.status(said[s]);
        if (s === "open")
            this.answered = true;
        if (s === "waiting" && !this.answered)
            void this.refused();
        if (s === "finished" || s === "failed")
            this.idle();
    }
    answered = false; // the service has answered this practice
    /** refused finds out whether a key is missing: a browser does not tell why a WebSocket was not opened. */
    async refused() {
        try {
            await this.session.service.catalog();
        }
        catch (e) {
            if (!(e instanceof ServiceError) || e.code !== 16)
                return;
            this.stop();
            at("key-box").open = true;
            this.status("This service asks for a key. Enter it at the foot of the page.");
        }
    }
    async finish() {
        try {
            await this.live?.finish();
        }
        catch { /* told by state */ }
    }
    stop() {
        this.player?.stop();
        this.player = undefined;
        this.camera?.release();
        const live = this.live;
        this.live = undefined;
        if (live && this.answered)
            live.finish().catch(() => { }); // told by state
        else
            live?.abandon();
        this.idle();
    }
    idle() {
        delete at("place-try").dataset.running;
        at("pause").textContent = "Pause";
    }
    status(text) { at("try-status").textContent = text; }
}
/** Player hands frames over at the pace of their own times. */
class Player {
    frames;
    give;
    done;
    i = 0;
    clock = 0; // s of the clip played so far
    lastTick = 0;
    running = false;
    ended = false;
    onpause = (_paused) => { };
    constructor(frames, give, done) {
        this.frames = frames;
        this.give = give;
        this.done = done;
    }
    toggle() {
        this.running = !this.running && !this.ended;
        this.onpause(!this.running);
        if (!this.running)
            return;
        this.lastTick = performance.now();
        requestAnimationFrame(this.tick);
    }
    stop() { this.running = false; this.ended = true; }
    tick = () => {
        if (!this.running)
            return;
        const now = performance.now();
        // A tab in the background gets no ticks: it pauses rather than catches up.
        this.clock += Math.min(0.25, (now - this.lastTick) / 1000);
        this.lastTick = now;
        const start = number(this.frames[0].timeUs);
        while (this.i < this.frames.length && (number(this.frames[this.i].timeUs) - start) / 1e6 <= this.clock) {
            this.give(this.frames[this.i++]);
        }
        if (this.i < this.frames.length) {
            requestAnimationFrame(this.tick);
            return;
        }
        this.running = false;
        this.ended = true;
        this.done();
    };
}
