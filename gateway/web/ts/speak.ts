// Spoken cues, if the reader wishes and the device has a voice.

/** canSpeak says whether the browser can speak at all. */
export function canSpeak(): boolean { return "speechSynthesis" in globalThis; }

let on = false;

/** speaking turns spoken cues on or off; call it from a tap, as browsers ask. */
export function speaking(wished: boolean): void {
  on = wished;
  if (!canSpeak()) return;
  if (!wished) speechSynthesis.cancel();
}

/** say speaks a text when cues are on, or in any case when asked. A newer text replaces an older. */
export function say(text: string, asked = false): void {
  if (!(on || asked) || !canSpeak()) return;
  const words = new SpeechSynthesisUtterance(text);
  words.lang = "en";
  // Voices that are not local may send the text elsewhere.
  const local = speechSynthesis.getVoices().find((v) => v.localService && v.lang.startsWith("en"));
  if (local) words.voice = local;
  speechSynthesis.cancel();
  speechSynthesis.speak(words);
}
