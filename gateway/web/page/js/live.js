// The live display: ribbon and strip of the last seconds, big readings.
// Readings are provisional; they are drawn as dots, never as a settled line.
import { number } from "./courtkin.js";
import { phaseClass, ribbon, ticks } from "./curves.js";
import { amount, at, capital, svg, words } from "./kit.js";
const shownSeconds = 6;
export class LiveDisplay {
    readings = [];
    events = [];
    reset() {
        this.readings = [];
        this.events = [];
        at("now-phase").textContent = "waiting";
        for (const id of ["now-speed", "now-lag"])
            at(id).textContent = "–";
        at("live-ribbon").replaceChildren();
        at("live-strip").replaceChildren();
    }
    reading(r) {
        const t = number(r.timeUs) / 1e6, rough = r.grade !== "GRADE_GOOD";
        this.readings = this.readings.filter((x) => t - x.t < shownSeconds);
        this.readings.push({ t, phase: r.phase, speed: r.racketSpeedMps ?? NaN, lag: r.lagDeg ?? NaN, rough });
        const phase = at("now-phase");
        phase.textContent = words(r.phase) === "unspecified" ? "waiting" : words(r.phase);
        phase.className = "now-phase " + phaseClass(r.phase);
        show("now-speed", r.racketSpeedMps, "m/s", rough);
        show("now-lag", r.lagDeg, "deg", rough);
        this.draw(t);
    }
    /** event adds a provisional event, or takes one back, which its kind and time name. */
    event(e) {
        const t = number(e.timeUs) / 1e6, sd = number(e.sdUs) / 1e6;
        if (e.certainty === "CERTAINTY_WITHDRAWN") {
            this.events = this.events.filter((x) => x.kind !== e.kind || x.t !== t);
            at("now-event").textContent = `${capital(words(e.kind))} taken back`;
            return;
        }
        const text = `${capital(words(e.kind))} ± ${amount(sd, "s")}`;
        this.events = this.events.filter((x) => t - x.t < shownSeconds).concat({ t, sd, text, kind: e.kind });
        at("now-event").textContent = text;
    }
    draw(now) {
        const from = now - shownSeconds, parts = [];
        for (const r of this.readings) {
            const last = parts[parts.length - 1];
            if (last && last.kind === r.phase)
                last.to = r.t;
            else {
                if (last)
                    last.to = r.t;
                parts.push({ kind: r.phase, from: r.t, to: r.t });
            }
        }
        const known = parts.filter((p) => words(p.kind) !== "unspecified");
        at("live-ribbon").replaceChildren(ribbon(known, from, now, this.events));
        at("live-strip").replaceChildren(this.strip(from, now));
    }
    /** strip draws the speed of the last seconds; rough readings are hollow. */
    strip(from, now) {
        const width = 1000, height = 200, top = Math.max(20, ...this.readings.map((r) => r.speed || 0)) * 1.25;
        const x = (t) => ((t - from) / (now - from)) * width, y = (v) => height - 6 - (v / top) * (height - 14);
        const g = svg("svg", { class: "strip", viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": "Racket speed of the last seconds" });
        for (const v of ticks(0, top, 3)) {
            g.append(svg("line", { x1: 0, x2: width, y1: y(v), y2: y(v), class: "grid" }));
            g.append(svg("text", { x: 4, y: y(v) - 5, class: "tick" }, v === 0 ? "0" : `${v} m/s`));
        }
        for (const r of this.readings) {
            if (Number.isFinite(r.speed))
                g.append(svg("circle", { cx: x(r.t), cy: y(r.speed), r: 8, class: r.rough ? "dot rough" : "dot" }));
        }
        return g;
    }
}
function show(id, value, unit, rough) {
    const e = at(id);
    const known = value !== undefined && Number.isFinite(value);
    e.textContent = known ? (unit === "deg" ? `${value.toFixed(0)}°` : value.toFixed(1)).replace("-", "−") : "–";
    e.classList.toggle("is-rough", rough);
}
