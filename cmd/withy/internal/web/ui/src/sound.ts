// The four sounds, the same as the sounder's, once somebody has tapped for them.

import { button, setText } from "./dom";
import { voice as voiceWords } from "./device-words";
import { device } from "./device";
import { askHeard, shut } from "./heard";
import { keepAway, type Sound, type View } from "./state";
import { allowVoice, hush, tryVoice, voiceKind } from "./voice";
import { page } from "./words";

/** Pulse is one tone: when it starts, how long it is, in ms. */
type Pulse = readonly [start: number, long: number];

interface Pattern {
  pulses: Pulse[];
  hz: number;
  loud: number;
}

/** train makes n pulses with a gap between them. */
function train(n: number, long: number, gap: number, from = 0): Pulse[] {
  return Array.from({ length: n }, (_, i) => [from + i * (long + gap), long] as const);
}

const five = 5 * 150 + 4 * 100;
const patterns: Record<Exclude<Sound, "">, Pattern> = {
  look: { pulses: train(1, 60, 0), hz: 700, loud: 0.3 },
  "ready soon": { pulses: train(1, 120, 0), hz: 880, loud: 0.5 },
  pull: { pulses: train(2, 200, 120), hz: 880, loud: 0.8 },
  kettle: { pulses: train(3, 300, 300), hz: 440, loud: 0.3 },
  danger: { pulses: [...train(5, 150, 100), ...train(5, 150, 100, five + 400)], hz: 1245, loud: 1 },
};
const dangerEvery = 5000; // ms

// Boxes of a shop are told apart by ear: any two are three semitones apart or more, and none
// an octave. The seventh sounds as the first again.
const semitones = [0, 4, -4, 7, -7, 10];
let pitch = 1;

/** pitchOf is what a box's tones are multiplied by, by the number painted on it; 0: the only one. */
export function pitchOf(number: number): number {
  return 2 ** ((semitones[(Math.max(1, number) - 1) % semitones.length] ?? 0) / 12);
}

/** soundAs gives all sounds the pitch of a box. */
export function soundAs(number: number): void {
  pitch = pitchOf(number);
}

let context: AudioContext | null = null;
let lastSound: number | null = null;
let danger: number | undefined;
let quietAt = 0; // ms on the page's clock: when the last tone ends

function play(sound: Sound): void {
  if (!context || sound === "") return;
  const p = patterns[sound];
  quietAt = performance.now() + length(p);
  if (sound === "danger") hush();
  for (const [start, long] of p.pulses) tone(context, p, context.currentTime + start / 1000, long / 1000);
}

function length(p: Pattern): number {
  return Math.max(...p.pulses.map(([start, long]) => start + long));
}

/** quietIn is how many ms the sound that plays now goes on. */
export function quietIn(): number {
  return Math.max(0, quietAt - performance.now());
}

/** tone plays one pulse with soft edges, so that it does not click. */
function tone(audio: AudioContext, p: Pattern, from: number, long: number): void {
  const oscillator = audio.createOscillator();
  const gain = audio.createGain();
  const edge = 0.012;
  oscillator.type = "triangle";
  oscillator.frequency.value = p.hz * pitch;
  gain.gain.setValueAtTime(0, from);
  gain.gain.linearRampToValueAtTime(p.loud, from + edge);
  gain.gain.setValueAtTime(p.loud, from + long - edge);
  gain.gain.linearRampToValueAtTime(0, from + long);
  oscillator.connect(gain).connect(audio.destination);
  oscillator.start(from);
  oscillator.stop(from + long);
}

/** soundButton is what must be tapped before a browser lets a page sound and speak. */
export function soundButton(): HTMLButtonElement {
  const b = button(page.soundOff, () => {
    if (context) off();
    else on();
    setText(b, context ? page.soundOn : page.soundOff);
    b.setAttribute("aria-pressed", String(context !== null));
  }, { "aria-pressed": "false" });
  return b;
}

function on(): void {
  context = new AudioContext();
  allowVoice(true);
  askHeard(tryOut, device().voice && voiceKind() !== "none");
}

function off(): void {
  void context?.close();
  context = null;
  allowVoice(false);
  shut();
}

function tryOut(): void {
  play("ready soon");
  tryVoice(voiceWords.heard, quietIn());
}

/** sounds plays what the view says began, and danger for as long as it is raised. */
export function sounds(v: View): void {
  const next = v.sound.sound ?? "";
  const began = lastSound !== null && v.sound.n !== lastSound;
  lastSound = v.sound.n;
  const towardsDoor = next === "pull" || next === "ready soon";
  if (began && next !== "danger" && !(towardsDoor && keepAway(v))) play(next);
  dangerous((v.alarms ?? []).some((a) => a.state === "raised" && a.sound === "danger"));
}

/** dangerous begins or ends the danger sound. */
function dangerous(raised: boolean): void {
  if (raised === (danger !== undefined)) return;
  clearInterval(danger);
  danger = undefined;
  if (!raised) return;
  play("danger");
  danger = setInterval(() => play("danger"), dangerEvery);
}
