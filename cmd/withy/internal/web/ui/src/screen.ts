// What is set for this screen alone: where it stands, its look, its voice, how the
// boat lies before it, and its keys.

import { button, byID, el, group, setText } from "./dom";
import { device, keep, onDevice, presses, rates, type Press } from "./device";
import { screen as words } from "./device-words";
import { paired } from "./paired";
import { mayBeSet, nextKey, setKey } from "./press";
import type { Mark } from "./state";
import { voiceFailed, voiceKind } from "./voice";

const marks: Mark[] = ["port", "starboard"];
const patience = 10_000; // ms that a pedal is waited for

/** screen makes it all; it then keeps itself up to date. */
export function screen(): void {
  const d = device();
  byID("screen").append(el("h2", {}, words.title), el("p", { class: "legend" }, words.kept),
    fold(words.place, pick(words.place, words.places, d.place, (place) => keep({ place }), false), el("p", {}, words.placeSays)),
    fold(words.look, pick(words.look, words.looks, d.look, (look) => keep({ look }), false)),
    fold(words.units, pick(words.units, words.unitsAs, d.units, (units) => keep({ units }), false)),
    voiceFold(),
    boatFold(),
    keysFold(),
    paired());
}

function fold(title: string, ...children: Node[]): HTMLDetailsElement {
  return el("details", { class: "fold" }, el("summary", {}, title), el("div", {}, ...children));
}

/** pick is a row of which one is chosen; its name need not be seen again below a heading that is the same. */
function pick<T extends string>(name: string, texts: Record<T, string>, chosen: T, choose: (value: T) => void, heading = true, place = "screen"): HTMLElement {
  const options = (Object.keys(texts) as T[]).map((value) => {
    const radio = el("input", { type: "radio", name: `${place} ${name}`, value, checked: value === chosen });
    radio.addEventListener("change", () => choose(value));
    return el("label", { class: "pick" }, radio, el("span", {}, texts[value]));
  });
  return el("fieldset", { class: "group" }, el("legend", { class: heading ? undefined : "unseen" }, name), ...options);
}

function voiceFold(): HTMLElement {
  const d = device();
  const says = el("p", { role: "status" });
  const rate = (Object.keys(rates) as (keyof typeof rates)[]).find((r) => rates[r] === d.rate) ?? "usual";
  const made = fold(words.voice,
    pick(words.voice, words.voices, d.voice ? "on" : "off", (on) => keep({ voice: on === "on" }), false),
    pick(words.rate, words.rates, rate, (r) => keep({ rate: rates[r] })), says);
  const tell = (): void => setText(says, voiceFailed() ? words.voiceFailed : { none: words.voiceNone, remote: words.voiceRemote, own: words.voiceOwn }[voiceKind()]);
  made.addEventListener("toggle", tell);
  if ("speechSynthesis" in window) speechSynthesis.addEventListener("voiceschanged", tell);
  tell();
  return made;
}

function boatFold(): HTMLElement {
  return fold(words.boat, ...lieSettings("screen"), group(words.sides, ...marks.map(sideName)), el("p", {}, words.boatSays));
}

/** lieSettings sets how the boat lies. It may stand in two places of the page, each of which follows the other. */
export function lieSettings(place: string): HTMLElement[] {
  const { lies } = device();
  const both = [
    pick(words.keel, words.keels, lies.keel, (keel) => keep({ lies: { ...device().lies, keel } }), true, place),
    pick(words.bow, words.bows, lies.bow, (bow) => keep({ lies: { ...device().lies, bow } }), true, place),
  ];
  onDevice(() => {
    const now: string[] = [device().lies.keel, device().lies.bow];
    for (const [i, node] of both.entries()) for (const radio of node.querySelectorAll("input")) radio.checked = radio.value === now[i];
  });
  return both;
}

function sideName(mark: Mark): HTMLElement {
  const input = el("input", { value: device().sides[mark], maxlength: 24, autocomplete: "off" });
  input.addEventListener("input", () => keep({ sides: { ...device().sides, [mark]: input.value.trim() } }));
  return el("label", { class: "pick" }, el("span", {}, words.side(mark)), input);
}

function keysFold(): HTMLElement {
  const says = el("p", { role: "status" });
  return fold(words.keys, el("p", {}, words.keysSay), ...presses.map((p) => keyRow(p, (text) => setText(says, text))), says);
}

/** keyRow is one thing that a key can do, and which key does it. */
function keyRow(press: Press, say: (text: string) => void): HTMLElement {
  const name = el("b", { class: "key" });
  const set: HTMLButtonElement = button(words.set, () => wait(press, set, say), { "aria-label": `${words.set}: ${words.does[press]}` });
  const none = button(words.clear, () => setKey(press, ""), { "aria-label": `${words.clear}: ${words.does[press]}` });
  const show = (): void => {
    const key = device().keys[press];
    setText(name, key ?? words.noKey);
    none.disabled = key === undefined;
  };
  onDevice(show);
  show();
  return el("p", { class: "key-row" }, el("span", { class: "what" }, words.does[press]), name, set, none);
}

/** wait takes the next key for a press, or none if it does not come. */
function wait(press: Press, set: HTMLButtonElement, say: (text: string) => void): void {
  const done = (): void => {
    clearTimeout(timer);
    setText(set, words.set);
    set.removeEventListener("blur", giveUp);
  };
  const giveUp = (): void => {
    nextKey(null);
    done();
  };
  const timer = setTimeout(giveUp, patience);
  set.addEventListener("blur", giveUp);
  setText(set, words.waits);
  say(words.waits);
  nextKey((code) => {
    done();
    if (mayBeSet(code)) setKey(press, code);
    say(mayBeSet(code) ? `${code}: ${words.does[press]}.` : words.refusedKey);
  });
}
