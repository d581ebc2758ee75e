import { amount, capital, known, plusMinus, why, words } from "./kit.js";
/** save hands the reader a file. */
export function save(name, type, text) {
    const url = URL.createObjectURL(new Blob([text], { type: type + ";charset=utf-8" }));
    const a = document.createElement("a");
    a.href = url;
    a.download = name;
    a.click();
    setTimeout(() => URL.revokeObjectURL(url), 10_000);
}
/** practiceCSV is a row for each figure of each ball. */
export function practiceCSV(balls) {
    const rows = [["ball", "id", "stroke", "measure", "value", "sd", "low95", "high95", "unit", "grade", "reason"]];
    balls.forEach((s, i) => {
        for (const m of s.measures) {
            rows.push([String(i + 1), s.id, words(s.stroke), m.name, cell(m.value), cell(m.sd), cell(m.low), cell(m.high), m.unit, words(m.grade), m.reason]);
        }
    });
    return rows.map((r) => r.map(quoted).join(",")).join("\r\n") + "\r\n";
}
function cell(v) { return v === undefined || !Number.isFinite(v) ? "" : String(v); }
/** quoted keeps a cell one cell, and keeps a spreadsheet from taking text for a formula. */
function quoted(text) {
    const safe = /^[=+@\t\r]|^-(?![\d.])/.test(text) ? "'" + text : text;
    return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
/** practicePage is the practice as one page without scripts or other files. */
export function practicePage(balls, summary, plots, titles) {
    const cue = summary?.focus?.text ? `<h2>Next time</h2><p class="cue">${safe(summary.focus.text)}</p><p>${safe(summary.focus.drill)}</p>` : "";
    return `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>Practice of ${balls.length} balls</title><style>${style}</style></head><body>
<h1>Practice of ${balls.length} balls</h1>
<p>${safe(summary?.summary ?? "")}</p>
${cue}${(summary?.cautions ?? []).map((c) => `<p class="warning">${safe(c.text)} ${safe(c.drill)}</p>`).join("")}
${plots.map((p) => `<figure>${p}</figure>`).join("\n")}
${balls.map((s, i) => ballTable(s, i + 1, titles)).join("\n")}
<p>± is one standard deviation. A figure without a number says why.</p>
</body></html>
`;
}
function ballTable(s, n, titles) {
    const row = (m) => `<tr><th scope="row">${safe(titles.of(m.name))}</th><td>${known(m)
        ? `${safe(plusMinus(m.value, m.sd ?? NaN, m.unit))}</td><td>${safe(amount(m.low ?? m.value, m.unit, m.sd))} to ${safe(amount(m.high ?? m.value, m.unit, m.sd))}</td><td>${words(m.grade)}`
        : `–</td><td></td><td>${safe(why(m.reason))}`}</td></tr>`;
    return `<details><summary>Ball ${n}: ${safe(capital(words(s.stroke)))}</summary><table><thead><tr><th>Figure</th><th>Value</th><th>95 % interval</th><th>Grade</th></tr></thead><tbody>${s.measures.map(row).join("")}</tbody></table></details>`;
}
function safe(text) {
    return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;").replaceAll('"', "&quot;");
}
const style = `body{font:17px/1.5 system-ui,sans-serif;color:#14171a;max-width:46rem;margin:2rem auto;padding:0 1rem}
.cue{font-size:1.6rem;font-weight:700}.warning{border-left:.4rem solid #a2360b;padding-left:.7rem}
figure{margin:1rem 0}svg{width:100%;height:auto}table{border-collapse:collapse;width:100%}th,td{text-align:left;padding:.25rem .5rem;border-bottom:1px solid #c3c9cf;font-variant-numeric:tabular-nums}
.spread{fill:#dfe6ec}.median{stroke:#5a646d;stroke-dasharray:4 4}.trend{stroke:#a2360b;stroke-width:3}.trend.faint{stroke-width:1;stroke-dasharray:3 5}
.error{stroke:#14171a;stroke-width:2}.dot{fill:#14171a}.dot.rough{fill:#fff;stroke:#14171a;stroke-width:2}.tick{font-size:13px;fill:#40474e}.tick.end{text-anchor:end}.tick.mid{text-anchor:middle}.plot-title{font-weight:700;font-size:16px}`;
