// The place "practice": the balls as a strip, figures over the balls with
// trend and band, what to work on next, and two files to take along.
import { ServiceError } from "./courtkin.js";
import { card, cueTitle } from "./card.js";
import { ticks, whisker } from "./curves.js";
import { amount, at, capital, el, figure, headline, known, plusMinus, svg, tickText, unitText, words } from "./kit.js";
import { practiceCSV, practicePage, save } from "./save.js";
export class PracticePlace {
    session;
    summary;
    request = 0;
    stale = true;
    constructor(session) {
        this.session = session;
        session.onchange(() => { this.stale = true; if (!at("place-practice").hidden)
            void this.shown(); });
        at("export-html").addEventListener("click", () => this.page());
        at("export-csv").addEventListener("click", () => save("practice.csv", "text/csv", practiceCSV(this.session.balls)));
        at("forget").addEventListener("click", () => { this.summary = undefined; this.session.clear(); });
        at("practice-stroke").addEventListener("change", () => this.plots());
    }
    /** shown is called when the reader comes to this place. */
    async shown() {
        const balls = this.session.balls;
        at("practice-empty").hidden = balls.length > 0;
        at("practice-work").hidden = balls.length === 0;
        if (!this.stale || balls.length === 0)
            return;
        this.stale = false;
        this.strip();
        await this.sum();
    }
    async sum() {
        const mine = ++this.request;
        at("practice-status").textContent = "Summing up …";
        try {
            const bare = this.session.balls.map(({ trace: _, ...rest }) => rest);
            const summary = await this.session.service.summarize(bare, this.session.player);
            if (mine !== this.request)
                return;
            this.summary = summary;
            at("practice-status").textContent = summary.summary;
            this.strip();
            this.focus(summary);
            this.strokes(summary);
            this.plots();
        }
        catch (e) {
            if (mine === this.request)
                at("practice-status").textContent = `No summary: ${e instanceof ServiceError ? e.message : String(e)}`;
        }
    }
    /** strip shows a bead for each ball, with its speed and the error of it. */
    strip() {
        const speeds = this.session.balls.map((s) => figure(s, "racket_speed.tip.contact")).filter(known);
        const fastest = Math.max(0, ...speeds.map((m) => m.high ?? m.value)); // one scale, so that beads can be compared
        const beads = this.session.balls.map((s, i) => {
            const m = figure(s, "racket_speed.tip.contact"), hand = figure(s, "racket_speed.hand.contact"), shown = known(m) ? m : hand;
            const mark = s.id === this.summary?.bestSwingId ? "best" : s.id === this.summary?.typicalSwingId ? "typical" : "";
            return el("li", {}, el("button", { type: "button", class: "bead", onclick: () => this.open(s, i + 1) }, el("span", { class: "bead-number" }, String(i + 1)), el("span", { class: "bead-stroke" }, words(s.stroke)), known(shown) ? el("span", { class: "bead-value" }, plusMinus(shown.value, shown.sd ?? NaN, shown.unit)) : el("span", { class: "bead-value absent" }, "speed not known"), known(shown) && whisker(shown.value, shown.low ?? shown.value, shown.high ?? shown.value, shown.unit, shown.grade === "GRADE_ROUGH", fastest), mark && el("span", { class: "bead-mark" }, mark === "best" ? "your good one" : "typical")));
        });
        at("beads").replaceChildren(...beads);
    }
    open(s, n) {
        const box = at("practice-card");
        box.replaceChildren(card(s, n, this.session.titles));
        box.scrollIntoView({ block: "nearest" });
    }
    focus(summary) {
        const box = at("focus");
        box.replaceChildren();
        if (summary.focus?.text) {
            box.append(el("p", { class: "cue-kind" }, "Next time"), el("p", { class: "cue-text" }, summary.focus.text), el("p", { class: "cue-drill" }, summary.focus.drill));
        }
        else
            box.append(el("p", { class: "cue-text" }, "Nothing stands out for certain yet: play more balls."));
        for (const c of summary.cautions)
            box.append(el("p", { class: "warning" }, el("strong", {}, cueTitle(c.kind) + ": "), `${c.text} ${c.drill}`));
    }
    strokes(summary) {
        const select = at("practice-stroke"), before = select.value;
        const strokes = [...summary.counts].sort((a, b) => b.count - a.count);
        select.replaceChildren(...strokes.map((c) => el("option", { value: c.stroke }, `${words(c.stroke)} (${c.count})`)));
        if (strokes.some((c) => c.stroke === before))
            select.value = before;
    }
    plots() {
        const stroke = at("practice-stroke").value;
        const figures = this.summary?.figures.filter((f) => f.stroke === stroke) ?? [];
        const first = headline.map((name) => figures.find((f) => f.measure === name)).filter((f) => f !== undefined);
        const rest = figures.filter((f) => !headline.includes(f.measure));
        const more = el("details", {}, el("summary", {}, `${rest.length} further figures`));
        more.addEventListener("toggle", () => { if (more.open && more.childElementCount === 1)
            more.append(...rest.map((f) => this.plot(f))); });
        at("practice-plots").replaceChildren(...first.map((f) => this.plot(f)), ...(rest.length ? [more] : []));
    }
    plot(f) {
        return el("figure", {}, overBalls(f, this.session.balls, this.session.titles.of(f.measure)), el("figcaption", {}, trendWords(f)));
    }
    page() {
        const plots = [...at("practice-plots").querySelectorAll("svg")].map((s) => s.outerHTML);
        save("practice.html", "text/html", practicePage(this.session.balls, this.summary, plots, this.session.titles));
    }
}
/** trendWords says level, spread and trend, and whether the trend stands out. */
export function trendWords(f) {
    const level = `Middle ${amount(f.median, f.unit, f.spread)}, spread ${amount(f.spread, f.unit, f.spread)} over ${f.count} ${f.count === 1 ? "ball" : "balls"}.`;
    if (f.count < 4)
        return level + " Too few balls for a trend.";
    if (!(f.trendP < 0.05))
        return level + " No trend that stands out.";
    return `${level} ${f.trendPerSwing > 0 ? "Rising" : "Falling"} by ${amount(Math.abs(f.trendPerSwing), f.unit, f.spread / 10)} a ball (chance alone: ${f.trendP < 0.001 ? "under 0.1" : (100 * f.trendP).toFixed(1)} %).`
        + (f.smallestRealChange > 0 ? ` Smallest real change: ${amount(f.smallestRealChange, f.unit, f.spread)}.` : "");
}
/** overBalls draws a figure against the ball's number: dots with whiskers, the middle half of the spread as a band, the trend as a line. */
export function overBalls(f, balls, title) {
    const width = 600, height = 230, left = 58, right = 12, top = 28, bottom = 30;
    const dots = balls.flatMap((s, i) => {
        const m = s.stroke === f.stroke ? figure(s, f.measure) : undefined;
        return known(m) ? [{ n: i + 1, v: m.value, low: m.low ?? m.value, high: m.high ?? m.value, rough: m.grade === "GRADE_ROUGH" }] : [];
    });
    const lo = Math.min(...dots.map((d) => d.low), f.median - f.spread), hi = Math.max(...dots.map((d) => d.high), f.median + f.spread);
    const pad = 0.08 * (hi - lo) || 1;
    const x = (n) => left + ((n - 0.5) / Math.max(1, balls.length)) * (width - left - right);
    const y = (v) => height - bottom - ((v - lo + pad) / (hi - lo + 2 * pad)) * (height - top - bottom);
    const clip = (v) => Math.max(top, Math.min(height - bottom, y(v)));
    const g = svg("svg", { class: "plot", viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": `${title}. ${trendWords(f)}` });
    g.append(svg("rect", { x: left, width: width - left - right, y: clip(f.median + f.spread), height: Math.max(1, clip(f.median - f.spread) - clip(f.median + f.spread)), class: "spread" }));
    g.append(svg("line", { x1: left, x2: width - right, y1: y(f.median), y2: y(f.median), class: "median" }));
    const marks = ticks(lo - pad, hi + pad, 4), largest = Math.max(Math.abs(lo), Math.abs(hi));
    for (const v of marks)
        g.append(svg("text", { x: left - 6, y: y(v) + 5, class: "tick end" }, tickText(v, f.unit, marks[1] - marks[0], largest)));
    const every = Math.ceil(balls.length / 12);
    for (let n = 1; n <= balls.length; n += every)
        g.append(svg("text", { x: x(n), y: height - 8, class: "tick mid" }, String(n)));
    if (dots.length >= 4) {
        const a = dots[0].n, b = dots[dots.length - 1].n, middle = (dots.length - 1) / 2;
        const at = (k) => clip(f.median + f.trendPerSwing * (k - middle));
        g.append(svg("line", { x1: x(a), x2: x(b), y1: at(0), y2: at(dots.length - 1), class: f.trendP < 0.05 ? "trend" : "trend faint" }));
    }
    for (const d of dots) {
        g.append(svg("line", { x1: x(d.n), x2: x(d.n), y1: clip(d.low), y2: clip(d.high), class: "error" }));
        g.append(svg("circle", { cx: x(d.n), cy: y(d.v), r: 6, class: d.rough ? "dot rough" : "dot" }));
    }
    g.append(svg("text", { x: left + 2, y: 18, class: "plot-title" }, [capital(title), unitText(f.unit, largest)].filter(Boolean).join(", ")));
    return g;
}
