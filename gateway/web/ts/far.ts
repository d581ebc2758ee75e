// The newest cue over the whole screen, for somebody who stands three metres
// away from the phone.
import type { Swing } from "./courtkin.js";
import { at, capital, figure, known, plusMinus, words } from "./kit.js";

/** wished says whether the reader wants cues to fill the screen. */
export function wished(): boolean { return at<HTMLInputElement>("large").checked; }

/** far shows a ball's cue as large as the screen lets it. */
export function far(swing: Swing, number: number): void {
  const dialog = at<HTMLDialogElement>("far"), text = dialog.querySelector<HTMLElement>(".far-text")!;
  dialog.querySelector(".far-ball")!.textContent = `${number}: ${capital(words(swing.stroke))}`;
  text.textContent = swing.cues[0]?.text ?? "Well played: no cue.";
  const tip = figure(swing, "racket_speed.tip.contact"), hand = figure(swing, "racket_speed.hand.contact");
  const speed = known(tip) ? ["tip", tip] as const : known(hand) ? ["hand", hand] as const : undefined;
  dialog.querySelector(".far-figure")!.textContent = speed ? `${plusMinus(speed[1].value!, speed[1].sd ?? NaN, speed[1].unit)} ${speed[0]}` : "";
  if (!dialog.open) dialog.showModal();
  fit(text);
}

/** fit finds the largest letters with which a text stays within its box, px. */
function fit(text: HTMLElement): void {
  let low = 24, high = 400;
  while (high - low > 2) {
    const size = (low + high) / 2;
    text.style.fontSize = `${size}px`;
    if (text.scrollHeight > text.clientHeight || text.scrollWidth > text.clientWidth || broken(text, size)) high = size;
    else low = size;
  }
  text.style.fontSize = `${low}px`;
}

/** broken says whether the longest word is wider than the box. */
function broken(text: HTMLElement, size: number): boolean {
  const pen = document.createElement("canvas").getContext("2d");
  if (!pen) return false;
  pen.font = `800 ${size}px ${getComputedStyle(text).fontFamily}`;
  return Math.max(...(text.textContent ?? "").split(/\s+/).map((w) => pen.measureText(w).width)) > text.clientWidth;
}

/** closing lets a tap anywhere on it, or the button, close it. */
export function closing(): void {
  const dialog = at<HTMLDialogElement>("far");
  dialog.addEventListener("click", () => dialog.close());
  addEventListener("resize", () => { if (dialog.open) fit(dialog.querySelector<HTMLElement>(".far-text")!); });
}
