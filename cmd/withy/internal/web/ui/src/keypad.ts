// A keypad for thumbs: digits, and the parts of an inch where those are in use. It
// types into whichever field was touched last, and takes the place of the device's own.

import { button, el } from "./dom";
import { keypad as words } from "./before-words";
import { measuredIn } from "./measure";

const digits = ["1", "2", "3", "4", "5", "6", "7", "8", "9"];
const metric = ["0", ".", "mm"];
const us = ["0", "'", '"'];
const parts = ["1/4", "1/2", "3/4", "1/8", "3/8", "5/8", "7/8", "/16", "/32", "/64", "."];

/** Keys is what a keypad does beyond typing. */
export interface Keys {
  copy: () => void; // what stands above
  next: () => void; // the field below
}

/** thumbs reports whether this device is worked with fingers. */
export function thumbs(): boolean {
  return matchMedia("(pointer: coarse)").matches;
}

/** keypad makes one that types into what field returns. */
export function keypad(field: () => HTMLInputElement | null, { copy, next }: Keys): HTMLElement {
  const type = (text: string) => (): void => typeInto(field(), text);
  const keys = [...digits, ...(measuredIn() === "us" ? us : metric)].map((k) => key(k, type(k)));
  const partKeys = measuredIn() === "us" ? parts.map((p) => key(p, type(p))) : [];
  const rest = [
    key(words.copy, copy), key(words.space, type(" ")), key("⌫", () => erase(field()), words.back), key(words.next, next),
  ];
  return el("div", { class: "keypad", role: "group", "aria-label": words.title },
    el("div", { class: "digits-of" }, ...keys), partKeys.length > 0 ? el("div", { class: "parts-of" }, ...partKeys) : null, el("div", { class: "rest-of" }, ...rest));
}

/** key is one key. The field keeps the focus while it is pressed. */
function key(text: string, press: () => void, label?: string): HTMLButtonElement {
  const node = button(text, press, { tabindex: -1, "aria-label": label });
  node.addEventListener("pointerdown", (e) => e.preventDefault());
  return node;
}

function typeInto(input: HTMLInputElement | null, text: string): void {
  if (!input) return;
  const [from, to] = [input.selectionStart ?? input.value.length, input.selectionEnd ?? input.value.length];
  input.setRangeText(joined(input.value.slice(0, from), text), from, to, "end");
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

/** joined is a key's text as it goes on after what stands there: a whole fraction is set off from the inches before it. */
export function joined(before: string, text: string): string {
  return /^\d\/\d/.test(text) && /\d$/.test(before) ? ` ${text}` : text;
}

function erase(input: HTMLInputElement | null): void {
  if (!input) return;
  const [from, to] = [input.selectionStart ?? 0, input.selectionEnd ?? 0];
  input.setRangeText("", from === to ? Math.max(0, from - 1) : from, to, "end");
  input.dispatchEvent(new Event("input", { bubbles: true }));
}
