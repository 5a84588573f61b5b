// The voice: the browser's own, once somebody has tapped for sound.

import { device } from "./device";
import { aloud, spoken, type Keys, type Saying } from "./spoken";
import type { View } from "./state";

/** VoiceKind is which voice there is: none, one that needs the internet, or the device's own. */
export type VoiceKind = "none" | "remote" | "own";

const language = "en";
const longest = 20_000; // ms after which a voice that says it is speaking has stuck

let said: Keys = new Set();
let stillTrue: Keys = new Set();
let allowed = false;
let failed = false;
let waiting: number | undefined;
let queue: Saying[] = [];
let began = 0; // ms on the page's clock: when it last began to speak

/** allowVoice lets the voice speak, or not any more. */
export function allowVoice(on: boolean): void {
  allowed = on;
  if (!on) hush();
}

/** speaks takes in a view and says what is new in it, once the sounds are over in so many ms. */
export function speaks(v: View, quietIn: number): void {
  const now = spoken(said, v);
  [said, stillTrue] = [now.said, now.true];
  if (now.fresh.length > 0) say(now.fresh, quietIn);
}

/** tryVoice says a text that is always true. */
export function tryVoice(text: string, after: number): void {
  say([{ key: "", says: text }], after);
}

/** say speaks after so many ms, and after what is being said now. */
function say(sayings: Saying[], after: number): void {
  if (!allowed || !device().voice || !("speechSynthesis" in window)) return;
  queue.push(...sayings);
  clearTimeout(waiting);
  waiting = setTimeout(next, after);
}

/** next says all that waits and is still true. */
function next(): void {
  const now = performance.now();
  if (speechSynthesis.speaking && now - began < longest) return; // it comes back when that ends
  const text = aloud(queue.filter((q) => q.key === "" || stillTrue.has(q.key)));
  queue = [];
  if (text === "") return;
  speechSynthesis.cancel();
  began = now;
  speechSynthesis.speak(utterance(text));
}

/** hush ends whatever is being said, or would be. */
export function hush(): void {
  clearTimeout(waiting);
  queue = [];
  if ("speechSynthesis" in window) speechSynthesis.cancel();
}

function utterance(text: string): SpeechSynthesisUtterance {
  const u = new SpeechSynthesisUtterance(text);
  u.lang = language;
  u.rate = device().rate;
  u.voice = english().find((voice) => voice.localService) ?? null;
  u.addEventListener("start", () => (failed = false));
  u.addEventListener("end", next);
  u.addEventListener("error", (e) => {
    if (e.error === "canceled" || e.error === "interrupted") return;
    failed = true;
    next();
  });
  return u;
}

function english(): SpeechSynthesisVoice[] {
  return speechSynthesis.getVoices().filter((voice) => voice.lang.startsWith(language));
}

/** voiceKind is which voice this browser has now: some name theirs a while after the page has begun. */
export function voiceKind(): VoiceKind {
  if (!("speechSynthesis" in window) || speechSynthesis.getVoices().length === 0) return "none";
  return english().some((voice) => voice.localService) ? "own" : "remote";
}

/** voiceless reports whether nothing would be heard of what is said now. */
export function voiceless(): boolean {
  return !allowed || !device().voice || voiceKind() === "none";
}

/** voiceFailed reports whether the voice did not speak when it last should have. */
export function voiceFailed(): boolean {
  return failed;
}
