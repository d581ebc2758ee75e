import { curve, eventMarks, contactUs, plot, ribbon, ribbonNames, span, stretches, whisker } from "./curves.js";
import { capital, el, figure, headline, known, plusMinus, why, words } from "./kit.js";
import { say } from "./speak.js";
/** card shows one swing; number counts from 1. */
export function card(swing, number, titles) {
    const zero = contactUs(swing), parts = stretches(swing.phases, zero), [from, to] = span(swing);
    const sure = Math.round(100 * swing.strokeConfidence);
    return el("article", { class: "card", "data-swing": swing.id, "aria-label": `Ball ${number}: ${words(swing.stroke)}` }, el("header", {}, el("p", { class: "ball-number" }, String(number)), el("h3", {}, capital(words(swing.stroke))), el("p", { class: "sure" }, `${sure} % sure · ${words(swing.dominantHand)}-handed`)), cueBox(swing.cues[0]), headlineFigures(swing, titles), parts.length > 0 && el("figure", {}, ribbon(parts, from, to, eventMarks(swing)), ribbonNames(parts), el("figcaption", {}, "Phases; the bars under the ribbon are the error of each moment.")), curves(swing, from, to), more(swing, titles));
}
function cueBox(cue) {
    if (!cue)
        return el("div", { class: "cue none" }, el("p", {}, "No cue: nothing stands out for certain."));
    return el("div", { class: `cue ${words(cue.kind)}` }, el("p", { class: "cue-kind" }, cueTitle(cue.kind)), el("p", { class: "cue-text" }, cue.text), cue.drill && el("p", { class: "cue-drill" }, cue.drill), el("button", { type: "button", class: "quiet", onclick: () => say(cue.text, true) }, "Say it"));
}
export function cueTitle(kind) {
    return { CUE_KIND_CORRECT: "Change one thing", CUE_KIND_KEEP: "Keep this", CUE_KIND_CAPTURE: "Help the camera", CUE_KIND_CAUTION: "Take care" }[kind] ?? "Cue";
}
function headlineFigures(swing, titles) {
    const list = el("dl", { class: "figures" });
    for (const name of headline) {
        const m = figure(swing, name);
        if (m)
            list.append(figureRow(m, titles));
    }
    return list;
}
/** figureRow shows a figure with its whisker, or why there is none. */
export function figureRow(m, titles) {
    const rough = m.grade === "GRADE_ROUGH";
    const row = el("div", { class: "figure" + (rough ? " is-rough" : ""), "data-measure": m.name }, el("dt", { title: titles.meaning(m.name) || false }, titles.of(m.name)));
    if (!known(m)) {
        row.append(el("dd", { class: "absent" }, "no number: " + why(m.reason)));
        return row;
    }
    const sd = m.sd ?? NaN;
    row.append(el("dd", {}, el("span", { class: "value" }, plusMinus(m.value, sd, m.unit)), whisker(m.value, m.low ?? m.value - 1.96 * sd, m.high ?? m.value + 1.96 * sd, m.unit, rough), rough && el("span", { class: "grade" }, "rough" + (m.reason ? ": " + why(m.reason) : ""))));
    return row;
}
function curves(swing, from, to) {
    const phases = stretches(swing.phases, contactUs(swing));
    const speed = [curve(swing, "racket_speed.tip", "speed", "racket tip"), curve(swing, "racket_speed.hand", "hand", "hand")].filter((c) => c !== undefined);
    const lag = [curve(swing, "lag.angle", "lag", "lag")].filter((c) => c !== undefined);
    if (speed.length + lag.length === 0)
        return false;
    return el("figure", { class: "curves" }, speed.length > 0 && plot(speed, { title: "Speed, m/s: tip (thick), hand (thin)", unit: "m/s", from, to, phases }), lag.length > 0 && plot(lag, { title: "Lag, degrees", unit: "deg", from, to, phases }), el("figcaption", {}, "Bands hold the true curve with 95 % confidence. Upright line: contact."));
}
function more(swing, titles) {
    const list = el("dl", { class: "figures all" });
    const c = swing.capture;
    const details = el("details", {}, el("summary", {}, `All ${swing.measures.length} figures, and how they were had`), el("p", { class: "how" }, "± is one standard deviation; the bar is the 95 % interval."
        + (c ? ` Method: ${words(c.method)}; ${c.frameRateHz.toFixed(0)} frames a second` + (c.slowMotionFactor > 1.05 ? `; slow motion × ${c.slowMotionFactor.toFixed(2)}.` : ".") : "")), ...swing.warnings.map((w) => el("p", { class: "warning" }, w.text)));
    details.append(list);
    details.addEventListener("toggle", () => {
        if (details.open && !list.firstChild)
            for (const m of swing.measures)
                list.append(figureRow(m, titles));
    });
    return details;
}
