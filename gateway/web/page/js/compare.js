// The place "compare": two swings side by side or laid over one another,
// scrubbed together, with three columns of certainty beside them.
import { number, ServiceError } from "./courtkin.js";
import { contactUs, curve, eventMarks, eventUs, gap, moveCursor, phaseClass, plot, ribbon, span, stretches } from "./curves.js";
import { ink, Motion, Stage } from "./figure.js";
import { amount, announce, at, calm, el, plusMinus, why, words } from "./kit.js";
const frameStep = 1 / 120; // s: a trace's grid
const colours = { reference: "#0b5394", candidate: ink.body };
export class ComparePlace {
    session;
    left = new Stage(at("compare-left"));
    right = new Stage(at("compare-right"));
    scrub = at("scrub");
    sides;
    result;
    plots = [];
    range = [-1, 0.7];
    t = 0;
    speed = 0;
    last = 0;
    request = 0;
    constructor(session) {
        this.session = session;
        session.onchange(() => this.list());
        for (const id of ["pick-reference", "pick-candidate"])
            at(id).addEventListener("change", () => void this.choose());
        at("swap").addEventListener("click", () => this.swap());
        this.scrub.addEventListener("input", () => { this.halt(); this.show(Number(this.scrub.value)); });
        at("step-back").addEventListener("click", () => this.step(-1));
        at("step-on").addEventListener("click", () => this.step(1));
        for (const b of document.querySelectorAll("[data-speed]"))
            b.addEventListener("click", () => this.run(Number(b.dataset.speed)));
        for (const id of ["align-contact", "align-phase", "overlay"])
            at(id).addEventListener("change", () => this.show(this.t));
        at("place-compare").addEventListener("keydown", (e) => this.keys(e));
        for (const [stage, other] of [[this.left, this.right], [this.right, this.left]]) {
            stage.onturn = () => { other.view.yaw = stage.view.yaw; this.show(this.t); };
        }
        at("compare-turn-left").addEventListener("click", () => this.left.turn(-0.35));
        at("compare-turn-right").addEventListener("click", () => this.left.turn(0.35));
        addEventListener("resize", () => this.show(this.t));
        this.list();
    }
    /** shown is called when the reader comes to this place. */
    shown() {
        if (this.sides)
            this.show(this.t);
        else
            this.suggest();
    }
    list() {
        const balls = this.session.balls.filter((b) => b.trace);
        at("compare-empty").hidden = balls.length >= 2;
        at("compare-work").hidden = balls.length < 2;
        for (const id of ["pick-reference", "pick-candidate"]) {
            const select = at(id), before = select.value;
            select.replaceChildren(...balls.map((b) => el("option", { value: b.id }, `${this.session.ballNumber(b)}: ${words(b.stroke)}`)));
            if (balls.some((b) => b.id === before))
                select.value = before;
        }
        if (this.sides && !this.session.byId(this.sides.reference.swing.id))
            this.sides = undefined;
    }
    /** suggest picks the first and the last ball of the commonest stroke. */
    suggest() {
        const balls = this.session.balls.filter((b) => b.trace);
        if (balls.length < 2)
            return;
        const count = new Map();
        for (const b of balls)
            count.set(b.stroke, (count.get(b.stroke) ?? 0) + 1);
        const stroke = [...count].sort((a, b) => b[1] - a[1])[0][0];
        const same = balls.filter((b) => b.stroke === stroke), pair = same.length > 1 ? same : balls;
        at("pick-reference").value = pair[0].id;
        at("pick-candidate").value = pair[pair.length - 1].id;
        void this.choose();
    }
    swap() {
        const a = at("pick-reference"), b = at("pick-candidate");
        [a.value, b.value] = [b.value, a.value];
        void this.choose();
    }
    async choose() {
        const reference = this.session.byId(at("pick-reference").value);
        const candidate = this.session.byId(at("pick-candidate").value);
        if (!reference || !candidate)
            return;
        this.halt();
        this.sides = { reference: side(reference), candidate: side(candidate) };
        const a = span(reference), b = span(candidate);
        this.range = [Math.min(a[0], b[0]), Math.max(a[1], b[1])];
        Object.assign(this.scrub, { min: String(this.range[0]), max: String(this.range[1]), step: String(frameStep) });
        at("mirror-note").hidden = reference.dominantHand === candidate.dominantHand;
        this.result = undefined;
        this.pictures();
        this.show(0);
        await this.judge(reference, candidate);
    }
    /** judge asks the service for the verdicts. */
    async judge(reference, candidate) {
        const mine = ++this.request;
        at("compare-status").textContent = "Comparing …";
        try {
            const result = await this.session.service.compare(reference, candidate);
            if (mine !== this.request)
                return;
            this.result = result;
            at("compare-status").textContent = result.summary;
            announce(result.summary);
            this.columns(result);
        }
        catch (e) {
            if (mine !== this.request)
                return;
            at("columns").replaceChildren();
            at("compare-status").textContent = `These two cannot be compared: ${e instanceof ServiceError ? e.message : String(e)}`;
        }
    }
    columns(result) {
        const scale = new Map(); // the largest difference of each unit, so that like is drawn alike
        for (const d of result.differences) {
            const reach = Math.abs(d.difference ?? 0) + 1.96 * (d.sd ?? 0);
            if (Number.isFinite(reach))
                scale.set(d.unit, Math.max(scale.get(d.unit) ?? 0, reach));
        }
        const column = (verdict, sign, title, meaning) => {
            const rows = result.differences.filter((d) => d.verdict === verdict);
            return el("section", { class: `column ${words(verdict).replaceAll(" ", "-")}`, "aria-label": title }, el("h3", {}, el("span", { class: "sign", "aria-hidden": "true" }, sign), `${title} `, el("span", { class: "count" }, String(rows.length))), el("p", { class: "meaning" }, meaning), el("ul", {}, ...rows.map((d) => el("li", {}, this.row(d, scale.get(d.unit) || 1)))));
        };
        at("columns").replaceChildren(column("VERDICT_SAME", "=", "Same", "Any difference is inside the error of measurement."), column("VERDICT_DIFFERENT", "≠", "Different", "Larger than the error of measurement; heaviest first."), column("VERDICT_CANNOT_TELL", "?", "Cannot tell", "The reason says what was missing."));
        at("compare-warnings").replaceChildren(...result.warnings.map((w) => el("p", { class: "warning" }, w.text)));
    }
    row(d, scale) {
        const hasGap = d.difference !== undefined && d.sd !== undefined;
        return el("button", { type: "button", class: "row", "aria-pressed": "false", onclick: (e) => this.origin(d, e.currentTarget) }, el("span", { class: "row-title" }, this.session.titles.of(d.measure)), hasGap && el("span", { class: "row-gap" }, plusMinus(d.difference, d.sd, d.unit)), hasGap && gap(d.difference, d.sd, scale), el("span", { class: "row-text" }, d.verdict === "VERDICT_CANNOT_TELL" ? why(d.reason) : d.text), d.phase !== "PHASE_KIND_UNSPECIFIED" && el("span", { class: "row-phase " + phaseClass(d.phase) }, words(d.phase)));
    }
    /** origin shows where in the swing a row comes from. */
    origin(d, button) {
        for (const b of at("columns").querySelectorAll("[aria-pressed=true]"))
            b.setAttribute("aria-pressed", "false");
        button.setAttribute("aria-pressed", "true");
        if (!this.sides)
            return;
        this.halt();
        const place = whence(d, this.sides.reference);
        for (const r of at("compare-ribbons").querySelectorAll("rect"))
            r.classList.toggle("is-lit", r.classList.contains(phaseClass(d.phase)));
        at("origin").textContent = `${this.session.titles.of(d.measure)} comes from ${place.text}.`;
        announce(at("origin").textContent ?? "");
        this.show(place.t);
        this.shownBeside(button, place.t, at("origin").textContent ?? "");
    }
    /** shownBeside lays both swings over one another under a row, as the large picture may be out of sight. */
    shownBeside(button, t, text) {
        document.querySelector(".where")?.remove();
        const canvas = el("canvas", { role: "img", "aria-label": `Both swings. ${text}` });
        button.after(el("div", { class: "where" }, canvas, el("p", {}, text)));
        const { reference, candidate } = this.sides, other = at("align-phase").checked ? this.paired(t) : t;
        const stage = new Stage(canvas);
        stage.view.yaw = this.left.view.yaw;
        this.draw(stage, [[reference, t, colours.reference], [candidate, other, colours.candidate]]);
        stage.onturn = () => this.draw(stage, [[reference, t, colours.reference], [candidate, other, colours.candidate]]);
    }
    pictures() {
        if (!this.sides)
            return;
        const { reference, candidate } = this.sides, [from, to] = this.range;
        const strip = (s, name) => el("div", { class: "named-ribbon" }, el("span", {}, name), ribbon(s.phases, from, to, eventMarks(s.swing)));
        at("compare-ribbons").replaceChildren(strip(reference, "Reference"), strip(candidate, "Other"));
        const two = (series) => [curve(reference.swing, series, "reference", "reference"), curve(candidate.swing, series, "candidate", "other")].filter((c) => c !== undefined);
        this.plots = [];
        for (const [series, title, unit] of [["racket_speed.tip", "Racket tip, m/s", "m/s"], ["lag.angle", "Lag, degrees", "deg"], ["shoulder_turn", "Shoulder turn, degrees", "deg"]]) {
            const curves = two(series);
            if (curves.length)
                this.plots.push(plot(curves, { title, unit, from, to, cursor: true, height: 180 }));
        }
        at("compare-plots").replaceChildren(...this.plots);
        at("columns").replaceChildren();
        at("origin").textContent = "Touch a row to see where in the swing it comes from.";
    }
    step(by) {
        this.halt();
        this.show(this.t + by * frameStep);
    }
    keys(e) {
        const target = e.target;
        if (!this.sides || ["SELECT", "INPUT"].includes(target.tagName))
            return;
        const act = {
            ArrowLeft: () => this.step(-1), ArrowRight: () => this.step(1), Home: () => { this.halt(); this.show(this.range[0]); }, End: () => { this.halt(); this.show(this.range[1]); },
        };
        if (!act[e.key])
            return;
        e.preventDefault();
        act[e.key]();
    }
    /** run plays at a speed, or stops when it already does. */
    run(speed) {
        const same = this.speed === speed;
        this.halt();
        if (same || !this.sides)
            return;
        this.speed = speed;
        document.querySelector(`[data-speed="${speed}"]`)?.setAttribute("aria-pressed", "true");
        if (this.t >= this.range[1] - 0.01)
            this.t = this.range[0];
        this.last = performance.now();
        requestAnimationFrame(this.tick);
    }
    halt() {
        this.speed = 0;
        for (const b of document.querySelectorAll("[data-speed]"))
            b.setAttribute("aria-pressed", "false");
    }
    tick = () => {
        if (!this.speed)
            return;
        const now = performance.now(), dt = Math.min(0.1, (now - this.last) / 1000);
        if (!calm() || dt >= 0.1) {
            this.last = now;
            this.show(this.t + dt * this.speed);
        } // less motion: ten pictures a second
        if (this.t >= this.range[1]) {
            this.halt();
            return;
        }
        requestAnimationFrame(this.tick);
    };
    /** show draws both swings t seconds from the reference's contact. */
    show(t) {
        if (!this.sides || at("place-compare").hidden)
            return;
        this.t = Math.max(this.range[0], Math.min(this.range[1], t));
        this.scrub.value = String(this.t);
        const text = this.t === 0 ? "at contact" : `${amount(Math.abs(this.t), "s")} ${this.t < 0 ? "before" : "after"} contact`;
        at("scrub-value").textContent = text;
        this.scrub.setAttribute("aria-valuetext", text);
        const { reference, candidate } = this.sides, other = at("align-phase").checked ? this.paired(this.t) : this.t;
        const over = at("overlay").checked;
        at("compare-right-box").hidden = over;
        this.draw(this.left, [[reference, this.t, colours.reference], ...(over ? [[candidate, other, colours.candidate]] : [])]);
        if (!over)
            this.draw(this.right, [[candidate, other, colours.candidate]]);
        for (const p of this.plots)
            moveCursor(p, this.t, this.range[0], this.range[1]);
    }
    /** paired returns the candidate's instant that belongs to the reference's. */
    paired(t) {
        const pairs = (this.result?.alignment ?? []).map((p) => [number(p.referenceS), number(p.candidateS)]);
        if (pairs.length < 2)
            return t;
        const i = Math.max(1, pairs.findIndex(([r]) => r >= t));
        const [r0, c0] = pairs[i - 1], [r1, c1] = pairs[i];
        if (t <= pairs[0][0])
            return c0 + (t - r0);
        const end = pairs[pairs.length - 1];
        if (t >= end[0])
            return end[1] + (t - end[0]);
        return r1 > r0 ? c0 + ((t - r0) / (r1 - r0)) * (c1 - c0) : c1;
    }
    draw(stage, figures) {
        const bothLeft = this.sides?.reference.swing.dominantHand === "HAND_LEFT" && this.sides.candidate.swing.dominantHand === "HAND_LEFT";
        stage.size();
        stage.centre();
        for (const [s, t, colour] of figures) {
            const pose = placed(s.motion.at(t), s.zero, bothLeft);
            stage.line(tipPath(s, t, bothLeft), colour, 0.012);
            stage.draw(pose, colour, colour);
        }
    }
}
function side(swing) {
    const motion = new Motion(swing), at0 = motion.at(0), l = at0.get("left_hip"), r = at0.get("right_hip");
    const zero = l && r ? { x: (l.x + r.x) / 2, y: 0, z: (l.z + r.z) / 2 } : { x: 0, y: 0, z: 0 };
    return { swing, motion, phases: stretches(swing.phases, contactUs(swing)), zero };
}
/** placed puts a pose so that the hips are in the middle at contact. Traces are right-handed; two left-handers are turned back. */
function placed(pose, zero, mirror) {
    const out = new Map();
    for (const [name, p] of pose)
        out.set(name, { x: p.x - zero.x, y: p.y, z: (p.z - zero.z) * (mirror ? -1 : 1) });
    return out;
}
function tipPath(s, t, mirror) {
    const path = [];
    for (let i = 36; i >= 0; i--) { // 0.3 s
        const tip = placed(s.motion.at(t - i * frameStep), s.zero, mirror).get("racket_tip");
        if (tip)
            path.push(tip);
    }
    return path;
}
/** Where measures are read, by the ends of their names; others belong to their whole phase. */
const readAt = [
    [/\.contact$|^contact\.|^spacing\.|^posture\./, "EVENT_KIND_CONTACT"],
    [/^lag\.(max|release_time|release_rate|snap_back)$/, "EVENT_KIND_MAX_LAG"],
    [/\.forward_start$/, "EVENT_KIND_FORWARD_START"],
    [/^path\.(tip_drop|hand_drop)$/, "EVENT_KIND_RACKET_LOW"],
    [/^turn\.(shoulders|hips)\.max$|^take_back\.|^head\.over_shoulder$/, "EVENT_KIND_TURN_COMPLETE"],
];
function whence(d, s) {
    const kind = readAt.find(([name]) => name.test(d.measure))?.[1];
    const t = kind ? (eventUs(s.swing.events, kind) - contactUs(s.swing)) / 1e6 : NaN;
    if (kind && Number.isFinite(t))
        return { t, text: kind === "EVENT_KIND_CONTACT" ? "contact" : `${words(kind)}, ${amount(Math.abs(t), "s")} ${t < 0 ? "before" : "after"} contact` };
    const phase = s.phases.find((p) => p.kind === d.phase);
    if (phase)
        return { t: (phase.from + phase.to) / 2, text: `the ${words(d.phase)}` };
    return { t: 0, text: "the swing as a whole" };
}
