// Keys as buttons: a pedal on a cable is a keyboard. What a key does is set per
// device; the daemon decides what that means now, and answers.

import { device, keep, presses, type Press } from "./device";
import { answer, answerFor } from "./said";
import type { Answer, View } from "./state";
import { newID, sendUntilTaken } from "./tell";

/** Key is what is read of a key that went down. */
export interface Key {
  code: string;
  repeat: boolean;
  ctrlKey: boolean;
  altKey: boolean;
  metaKey: boolean;
}

// Keys that the page itself is worked with, and those that only change others.
const own = /^(Tab|Escape|Enter|NumpadEnter|Space|Shift|Control|Alt|Meta|CapsLock|$)/;

let shown: number | null = null; // the answer that was shown last
let taken: ((code: string) => void) | null = null; // who waits for the next key

/** mayBeSet reports whether a key can be set to do something. */
export function mayBeSet(code: string): boolean {
  return !own.test(code);
}

/** does is what a key that went down does, if anything. */
export function does(keys: Partial<Record<Press, string>>, k: Key): Press | undefined {
  if (k.repeat || k.ctrlKey || k.altKey || k.metaKey) return undefined;
  return presses.find((p) => keys[p] !== undefined && keys[p] === k.code);
}

/** withKey returns the keys with one more set; a key does one thing only. */
export function withKey(keys: Partial<Record<Press, string>>, press: Press, code: string): Partial<Record<Press, string>> {
  const others = Object.fromEntries(Object.entries(keys).filter(([p, k]) => p !== press && k !== code));
  return code === "" ? others : { ...others, [press]: code };
}

/** listen has every key of the page looked at first. */
export function listen(): void {
  document.addEventListener("keydown", (e) => {
    if (taken) return take(e);
    const target = e.target;
    if (target instanceof HTMLElement && target.matches("input:not([type=radio]), textarea, select")) return;
    const press = does(device().keys, e);
    if (press === undefined) return;
    e.preventDefault();
    void pressed(press);
  }, { capture: true });
}

/** nextKey hands the next key to somebody instead of letting it do what it does; null gives up waiting. */
export function nextKey(hear: ((code: string) => void) | null): void {
  taken = hear;
}

function take(e: KeyboardEvent): void {
  e.preventDefault();
  e.stopPropagation();
  const hear = taken;
  taken = null;
  hear?.(e.code);
}

/** setKey sets which key does something, "" for none. */
export function setKey(press: Press, code: string): void {
  keep({ keys: withKey(device().keys, press, code) });
}

async function pressed(press: Press): Promise<void> {
  const { problem, body } = await sendUntilTaken("/api/press", { id: newID(), does: press });
  if (problem === "") answered(body as Answer);
  else answer(problem, true);
}

/** answers shows each new answer to a press, of whichever button, pedal or page. */
export function answers(v: View): void {
  if (shown === null) shown = v.answer.n;
  answered(v.answer);
}

function answered(a: Answer): void {
  if (a.n === shown || !a.says) return;
  shown = a.n;
  if (a.undo_s) answerFor(a.says, a.undo_s);
  else answer(a.says, false);
}
