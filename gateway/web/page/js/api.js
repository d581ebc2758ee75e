// The page of the calls: the OpenAPI document made readable.
import { el } from "./kit.js";
const refName = (ref) => ref.replace("#/definitions/", "");
const shortName = (name) => name.replace(/^courtkin\.v1\./, "");
const anchor = (name) => "m-" + name.replaceAll(".", "-");
function link(name) { return el("a", { href: "#" + anchor(name) }, shortName(name)); }
/** kind says a field's type in words, with a link where it is a message. */
function kind(s) {
    if (s.$ref)
        return [link(refName(s.$ref))];
    if (s.type === "array")
        return ["list of ", ...kind(s.items ?? {})];
    if (s.format === "int64" && s.type === "string")
        return ["integer, as text"];
    return [{ number: "number", integer: "integer", boolean: "true or false", string: "text", object: "object" }[s.type ?? ""] ?? s.type ?? "anything"];
}
function call(path, verb, op) {
    const box = el("section", { class: "call" }, el("h3", {}, el("span", { class: "verb" }, verb.toUpperCase()), " ", el("code", {}, path)), el("p", {}, op.summary ?? ""));
    if (op.description)
        box.append(el("p", {}, op.description));
    for (const p of op.parameters ?? []) {
        const what = p.schema ? kind(p.schema) : [p.type ?? ""];
        box.append(el("p", {}, p.in === "body" ? "Takes " : `Parameter ${p.name}: `, ...what, p.in === "body" ? "." : `. ${p.description ?? ""}`));
        const example = p.schema?.example ?? (p.schema?.$ref ? definitions[refName(p.schema.$ref)]?.example : undefined);
        if (example !== undefined)
            box.append(el("pre", { tabindex: "0" }, el("code", {}, JSON.stringify(example, null, 2))));
    }
    const good = op.responses["200"]?.schema;
    if (good)
        box.append(el("p", {}, "Answers ", ...kind(good), "."));
    return box;
}
function message(name, s) {
    const box = el("section", {}, el("h3", { id: anchor(name) }, shortName(name)), el("p", {}, s.description ?? s.title ?? ""));
    if (s.enum)
        box.append(el("ul", {}, ...s.enum.map((v) => el("li", {}, el("code", {}, v)))));
    const fields = Object.entries(s.properties ?? {});
    if (fields.length) {
        box.append(el("div", { class: "wide", tabindex: "0", role: "region", "aria-label": `Fields of ${shortName(name)}` }, el("table", {}, el("thead", {}, el("tr", {}, el("th", { scope: "col" }, "Field"), el("th", { scope: "col" }, "Type"), el("th", { scope: "col" }, "Meaning"))), el("tbody", {}, ...fields.map(([field, f]) => el("tr", {}, el("td", {}, el("code", {}, field)), el("td", {}, ...kind(f)), el("td", {}, f.description ?? f.title ?? "")))))));
    }
    return box;
}
let definitions = {};
async function main() {
    for (const e of document.querySelectorAll(".curl"))
        e.textContent = (e.textContent ?? "").replaceAll("ORIGIN", location.origin);
    const calls = document.getElementById("calls"), messages = document.getElementById("messages");
    try {
        const doc = (await (await fetch("openapi.json")).json());
        definitions = doc.definitions;
        calls.replaceChildren(...Object.entries(doc.paths).flatMap(([path, verbs]) => Object.entries(verbs).map(([verb, op]) => call(path, verb, op))));
        messages.replaceChildren(...Object.keys(definitions).sort().map((name) => message(name, definitions[name])));
        if (location.hash)
            document.getElementById(location.hash.slice(1))?.scrollIntoView();
    }
    catch {
        calls.replaceChildren(el("p", { class: "warning" }, "The document could not be read; the gateway cannot be reached."));
    }
}
void main();
