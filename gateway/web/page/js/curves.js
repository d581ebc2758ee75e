// Pictures of numbers, each with its error: whiskers, curves with bands, the
// phase ribbon.
import { number } from "./courtkin.js";
import { amount, capital, plusMinus, svg, tickText, words } from "./kit.js";
/** stretches turns phases into seconds from an origin, µs. */
export function stretches(phases, originUs) {
    return phases.map((p) => ({ kind: p.kind, from: (number(p.startUs) - originUs) / 1e6, to: (number(p.endUs) - originUs) / 1e6 }));
}
export function contactUs(s) { return eventUs(s.events, "EVENT_KIND_CONTACT"); }
export function eventUs(events, kind) {
    return number(events.find((e) => e.kind === kind)?.timeUs);
}
export function phaseClass(kind) { return "ph-" + words(kind).replaceAll(" ", "-"); }
/** ribbon draws phases as a strip; names that do not fit are left to the legend's words. */
export function ribbon(parts, from, to, marks = []) {
    const width = 1000, height = 92, x = (t) => ((t - from) / (to - from)) * width;
    const g = svg("svg", { class: "ribbon", viewBox: `0 0 ${width} ${height}`, preserveAspectRatio: "none", role: "img", "aria-label": ribbonWords(parts) });
    for (const p of parts) {
        const a = Math.max(0, x(p.from)), b = Math.min(width, x(p.to));
        if (b <= a)
            continue;
        g.append(svg("rect", { x: a, y: 0, width: b - a, height: 64, class: phaseClass(p.kind) }));
    }
    for (const m of marks) {
        const a = x(m.t);
        if (!(a >= 0 && a <= width))
            continue;
        const half = Math.max(1.5, (m.sd / (to - from)) * width);
        g.append(svg("rect", { x: a - half, y: 64, width: 2 * half, height: 10, class: "mark-error" }, svg("title", {}, m.text)));
        g.append(svg("line", { x1: a, x2: a, y1: 0, y2: 80, class: "mark", "vector-effect": "non-scaling-stroke" }));
    }
    return g;
}
function ribbonWords(parts) {
    return "Phases: " + parts.map((p) => `${words(p.kind)} ${amount(p.to - p.from, "s")}`).join(", ");
}
/** ribbonNames lists the phases with their colours and lengths. */
export function ribbonNames(parts) {
    const list = document.createElement("ul");
    list.className = "ribbon-names";
    for (const p of parts) {
        const item = document.createElement("li");
        const swatch = document.createElement("span");
        swatch.className = "swatch " + phaseClass(p.kind);
        item.append(swatch, `${words(p.kind)} ${amount(p.to - p.from, "s")}`);
        list.append(item);
    }
    return list;
}
/** eventMarks are a swing's events on its ribbon, seconds from contact. */
export function eventMarks(s) {
    const zero = contactUs(s);
    return s.events.map((e) => {
        const sd = number(e.sdUs) / 1e6;
        return { t: (number(e.timeUs) - zero) / 1e6, sd, text: `${capital(words(e.kind))} ± ${amount(sd, "s")}` };
    });
}
// ---------------------------------------------------------------- whiskers --
/** whisker draws a value's 95 % interval on a scale from 0 (or the far end) to past the interval, or to `end` where several share one. */
export function whisker(value, low, high, unit, rough, end = 0) {
    const reach = Math.max(Math.abs(low), Math.abs(high)) * 1.08 || 1;
    const from = Math.min(0, low * 1.08), to = Math.max(0, high * 1.08, from + reach * 0.05, end * 1.08);
    const x = (v) => 2 + ((v - from) / (to - from)) * 196;
    const label = `between ${amount(low, unit)} and ${amount(high, unit)} with 95 percent confidence`;
    const g = svg("svg", { class: rough ? "whisker rough" : "whisker", viewBox: "0 0 200 22", preserveAspectRatio: "none", role: "img", "aria-label": label });
    const bar = (x1, x2, y1, y2, cls) => g.append(svg("line", { x1, x2, y1, y2, class: cls, "vector-effect": "non-scaling-stroke" }));
    bar(2, 198, 11, 11, "rule");
    bar(x(0), x(0), 5, 17, "rule");
    bar(x(low), x(high), 11, 11, "span");
    bar(x(low), x(low), 4, 18, "end");
    bar(x(high), x(high), 4, 18, "end");
    bar(x(value), x(value), 1, 21, "value");
    return g;
}
/** gap draws a difference with its 95 % interval about a line at zero. */
export function gap(difference, sd, scale) {
    const x = (v) => 100 + Math.max(-96, Math.min(96, (v / scale) * 92));
    const low = difference - 1.96 * sd, high = difference + 1.96 * sd;
    const g = svg("svg", { class: "whisker gap", viewBox: "0 0 200 22", preserveAspectRatio: "none", "aria-hidden": "true" });
    const bar = (x1, x2, y1, y2, cls) => g.append(svg("line", { x1, x2, y1, y2, class: cls, "vector-effect": "non-scaling-stroke" }));
    bar(4, 196, 11, 11, "rule");
    bar(100, 100, 0, 22, "zero");
    bar(x(low), x(high), 11, 11, "span");
    bar(x(low), x(low), 4, 18, "end");
    bar(x(high), x(high), 4, 18, "end");
    bar(x(difference), x(difference), 2, 20, "value");
    return g;
}
/** curve takes a series out of a trace; empty when it is not there. */
export function curve(s, name, cls, label) {
    const series = seriesOf(s, name);
    if (!series || !s.trace)
        return undefined;
    const nums = (list) => list.map(number);
    return { times: nums(s.trace.times), values: nums(series.values), sds: nums(series.sds ?? []), cls, name: label };
}
export function seriesOf(s, name) {
    return s.trace?.series.find((x) => x.name === name);
}
const left = 52, right = 26, top = 12, bottom = 26, plotWidth = 600;
/** plot draws curves against seconds from contact, each in its 95 % band. */
export function plot(curves, o) {
    const height = o.height ?? 220;
    const [lo, hi] = extent(curves, o.from, o.to);
    const x = (t) => left + ((t - o.from) / (o.to - o.from)) * (plotWidth - left - right);
    const y = (v) => height - bottom - ((v - lo) / (hi - lo)) * (height - top - bottom);
    const g = svg("svg", { class: "plot", viewBox: `0 0 ${plotWidth} ${height}`, role: "img", "aria-label": plotWords(curves, o) });
    for (const p of o.phases ?? []) {
        const a = Math.max(o.from, p.from), b = Math.min(o.to, p.to);
        if (b > a)
            g.append(svg("rect", { x: x(a), y: top, width: x(b) - x(a), height: height - top - bottom, class: "wash " + phaseClass(p.kind) }));
    }
    const marks = ticks(lo, hi, 4);
    for (const v of marks) {
        g.append(svg("line", { x1: left, x2: plotWidth - right, y1: y(v), y2: y(v), class: v === 0 ? "axis" : "grid" }));
        g.append(svg("text", { x: left - 6, y: y(v) + 5, class: "tick end" }, tickText(v, o.unit, marks[1] - marks[0], hi)));
    }
    for (const t of ticks(o.from, o.to, 6))
        g.append(svg("text", { x: x(t), y: height - 7, class: "tick mid" }, tidy(t)));
    if (o.from < 0 && o.to > 0)
        g.append(svg("line", { x1: x(0), x2: x(0), y1: top, y2: height - bottom, class: "contact" }));
    for (const c of curves) {
        g.append(svg("path", { d: bandPath(c, x, y, o), class: "band " + c.cls }));
        g.append(svg("path", { d: linePath(c, x, y, o), class: "line " + c.cls }));
    }
    if (o.cursor)
        g.append(svg("line", { x1: x(0), x2: x(0), y1: top, y2: height - bottom, class: "cursor" }));
    g.append(svg("text", { x: left + 6, y: top + 16, class: "plot-title" }, o.title));
    return g;
}
/** moveCursor sets a plot's cursor to an instant. */
export function moveCursor(g, t, from, to) {
    const at = left + ((Math.min(to, Math.max(from, t)) - from) / (to - from)) * (plotWidth - left - right);
    const line = g.querySelector(".cursor");
    line?.setAttribute("x1", String(at));
    line?.setAttribute("x2", String(at));
}
function plotWords(curves, o) {
    const peaks = curves.map((c) => {
        let best = -1;
        c.values.forEach((v, i) => { if (inside(c.times[i], o) && v > (c.values[best] ?? -Infinity))
            best = i; });
        return best < 0 ? `${c.name}: nothing` : `${c.name}: highest ${plusMinus(c.values[best], c.sds[best] ?? NaN, o.unit)} at ${amount(c.times[best], "s")} from contact`;
    });
    return `${o.title}. ${peaks.join("; ")}`;
}
function inside(t, o) { return t >= o.from && t <= o.to; }
function extent(curves, from, to) {
    let lo = 0, hi = -Infinity;
    for (const c of curves) {
        c.values.forEach((v, i) => {
            const t = c.times[i], e = 1.96 * (c.sds[i] || 0);
            if (t < from || t > to || !Number.isFinite(v))
                return;
            lo = Math.min(lo, v - Math.min(e, Math.abs(v) + 1));
            hi = Math.max(hi, v + Math.min(e, Math.abs(v) + 1));
        });
    }
    return hi > lo ? [lo, hi + 0.12 * (hi - lo)] : [0, 1];
}
/** ticks are round values within [lo, hi], about n of them. */
export function ticks(lo, hi, n) {
    const rough = (hi - lo) / n, ten = 10 ** Math.floor(Math.log10(rough));
    const step = [1, 2, 5, 10].map((k) => k * ten).find((s) => s >= rough) ?? 10 * ten;
    const out = [];
    for (let v = Math.ceil(lo / step) * step; v <= hi + 1e-9; v += step)
        out.push(Math.abs(v) < step / 1e6 ? 0 : v);
    return out;
}
function tidy(t) { return (t === 0 ? "contact" : `${t.toFixed(1)} s`).replace("-", "−"); }
function linePath(c, x, y, o) {
    let d = "", pen = false;
    c.values.forEach((v, i) => {
        const t = c.times[i];
        if (!inside(t, o) || !Number.isFinite(v)) {
            pen = false;
            return;
        }
        d += `${pen ? "L" : "M"}${x(t).toFixed(1)} ${y(v).toFixed(1)}`;
        pen = true;
    });
    return d;
}
/** bandPath outlines value ± 1.96 sd wherever both are known. */
function bandPath(c, x, y, o) {
    let d = "", upper = [], lower = [];
    const close = () => {
        if (upper.length > 1)
            d += "M" + upper.join("L") + "L" + lower.reverse().join("L") + "Z";
        upper = [];
        lower = [];
    };
    c.values.forEach((v, i) => {
        const t = c.times[i], e = 1.96 * (c.sds[i] ?? NaN);
        if (!inside(t, o) || !Number.isFinite(v) || !Number.isFinite(e)) {
            close();
            return;
        }
        upper.push(`${x(t).toFixed(1)} ${y(v + e).toFixed(1)}`);
        lower.push(`${x(t).toFixed(1)} ${y(v - e).toFixed(1)}`);
    });
    close();
    return d;
}
/** span is the stretch of a swing that is worth looking at, seconds from contact. */
export function span(s) {
    const zero = contactUs(s), start = eventUs(s.events, "EVENT_KIND_TURN_START"), end = eventUs(s.events, "EVENT_KIND_FOLLOW_END");
    const times = s.trace?.times.map(number) ?? [];
    const first = times[0] ?? -1, last = times[times.length - 1] ?? 1;
    const from = Number.isFinite(start) ? (start - zero) / 1e6 - 0.15 : -1;
    const to = Number.isFinite(end) ? (end - zero) / 1e6 + 0.15 : 0.7;
    return [Math.max(first, Math.min(from, -0.5), -2.5), Math.min(last, Math.max(to, 0.3), 2)];
}
