// Small helpers that every place uses: elements, words, figures with errors.
import { number, type Definition, type Measure, type Num, type Service } from "./courtkin.js";

type Child = Node | string | null | undefined | false;
type Attributes = Record<string, string | number | boolean | undefined | ((e: never) => void)>;

/** el makes an element: el("p", {class: "x", onclick: f}, "text", child). */
export function el<K extends keyof HTMLElementTagNameMap>(tag: K, attributes: Attributes = {}, ...children: Child[]): HTMLElementTagNameMap[K] {
  const e = document.createElement(tag);
  fill(e, attributes, children);
  return e;
}

/** svg makes an SVG element in the same way. */
export function svg(tag: string, attributes: Attributes = {}, ...children: Child[]): SVGElement {
  const e = document.createElementNS("http://www.w3.org/2000/svg", tag);
  fill(e, attributes, children);
  return e;
}

function fill(e: Element, attributes: Attributes, children: Child[]): void {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") e.addEventListener(name.slice(2), value as EventListener);
    else if (value === true) e.setAttribute(name, "");
    else if (value !== false && value !== undefined) e.setAttribute(name, String(value));
  }
  for (const c of children) if (c) e.append(c);
}

/** at finds an element of the page by id. */
export function at<T extends HTMLElement = HTMLElement>(id: string): T {
  const e = document.getElementById(id);
  if (!e) throw new Error(`no #${id} on the page`);
  return e as T;
}

/** words turns an enum value of the contract into words: "EVENT_KIND_MAX_LAG" to "max lag". */
export function words(value: string): string {
  return value
    .replace(/^(EVENT_KIND|PHASE_KIND|STROKE|HAND|GRADE|VERDICT|CUE_KIND|VIEWPOINT|CERTAINTY|LEVEL)_/, "")
    .toLowerCase().replaceAll("_", " ").replace("two handed", "two-handed").replace("one handed", "one-handed");
}

export function capital(s: string): string { return s.charAt(0).toUpperCase() + s.slice(1); }

/** Units as a coach says them: factor from the contract's unit, and the sign. */
function shown(unit: string, size: number): [factor: number, sign: string] {
  switch (unit) {
    case "deg": return [1, "°"];
    case "deg/s": return [1, "°/s"];
    case "m": return Math.abs(size) < 1 ? [100, " cm"] : [1, " m"];
    case "s": return Math.abs(size) < 1 ? [1000, " ms"] : [1, " s"];
    case "1": return [1, ""];
    default: return [1, " " + unit];
  }
}

/** decimals shows two digits of the error, at most three places. */
function decimals(sd: number, factor: number): number {
  const e = sd * factor;
  return e > 0 ? Math.min(3, Math.max(0, 1 - Math.floor(Math.log10(e)))) : 1;
}

function fixed(x: number, places: number): string {
  return x.toFixed(places).replace(/^-(?=0(\.0*)?$)/, "").replace("-", "−");
}

/** amount writes a value in a coach's unit, with no more digits than its error allows. */
export function amount(value: number, unit: string, sd = NaN): string {
  const [factor, sign] = shown(unit, value);
  const places = sd > 0 ? decimals(sd, factor) : Math.abs(value * factor) >= 100 ? 0 : unit === "m" || unit === "s" ? 0 : 1;
  return fixed(value * factor, Math.max(places, factor === 1 && unit === "m" ? 2 : 0)) + sign;
}

/** tickText writes a value beside an axis whose ticks lie a step apart. */
export function tickText(value: number, unit: string, step: number, largest: number): string {
  const [factor] = shown(unit, largest), places = Math.max(0, -Math.floor(Math.log10(step * factor) + 1e-9));
  return fixed(value * factor, Math.min(3, places));
}

/** unitText is the unit in which amounts up to a largest are written. */
export function unitText(unit: string, largest: number): string { return shown(unit, largest)[1].trim(); }

/** plusMinus writes value ± standard deviation in one unit. */
export function plusMinus(value: number, sd: number, unit: string): string {
  if (!(sd > 0)) return amount(value, unit);
  const [factor, sign] = shown(unit, value), places = decimals(sd, factor);
  return `${fixed(value * factor, places)} ± ${fixed(sd * factor, places)}${sign}`;
}

/** why writes a reason of the service as words: "too_wide: the 95 % interval would be ± 1 s". */
export function why(reason: string): string {
  const [code, rest] = reason.split(/:\s*/, 2) as [string, string?];
  const said: Record<string, string> = {
    no_such_event: "this swing has no such moment",
    too_wide: "not sharp enough to give a number",
    no_racket: "the racket was not seen",
    no_ball: "the ball was not seen",
  };
  const head = said[code] ?? code.replaceAll("_", " ");
  return rest ? `${head}: ${rest}` : head;
}

/** Titles of measures, from the catalog; the name itself until it is there. */
export class Titles {
  private readonly found = new Map<string, Definition>();

  async load(service: Service): Promise<void> {
    try {
      for (const m of (await service.catalog()).measures) this.found.set(m.name, m);
    } catch { /* names then stand for titles */ }
  }

  of(name: string): string {
    const title = this.found.get(name)?.title;
    return title ? capital(title) : capital(name.replaceAll(".", ", ").replaceAll("_", " "));
  }

  meaning(name: string): string { return this.found.get(name)?.definition ?? ""; }
}

/** headline lists the measures that a coach asks for first. */
export const headline = [
  "racket_speed.tip.contact", "lag.max", "contact.height_waist", "spacing.hands", "turn.shoulders.max", "path.rise_angle",
];

export function figure(swing: { measures: Measure[] }, name: string): Measure | undefined {
  return swing.measures.find((m) => m.name === name);
}

/** known says whether a measure has a value. */
export function known(m: Measure | undefined): m is Measure & { value: number } {
  return m !== undefined && typeof m.value === "number" && Number.isFinite(m.value);
}

export function micros(t: Num): number { return number(t); }

/** calm says whether the reader asked for less motion. */
export function calm(): boolean { return matchMedia("(prefers-reduced-motion: reduce)").matches; }

/** announce tells a screen reader something once. */
export function announce(text: string): void { at("announcer").textContent = text; }
