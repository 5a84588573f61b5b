// The line at the foot of the page that answers whatever was told or pressed.

import { byID, setText } from "./dom";
import { answer as words } from "./device-words";

const shown = 6000; // ms that an answer stays, at the least
const reading = 80; // ms for each character of it

let hide: number | undefined;
let tick: number | undefined;

/** answer shows a sentence for as long as it takes to read. */
export function answer(text: string, bad: boolean): void {
  put(text, bad);
  hide = setTimeout(close, Math.max(shown, text.length * reading));
}

/** answerFor shows it with the seconds in which the same press says no to it. */
export function answerFor(text: string, seconds: number): void {
  put(text, false);
  const end = performance.now() + seconds * 1000;
  const count = (): void => {
    const left = (end - performance.now()) / 1000;
    if (left <= 0) close();
    else setText(part("b"), words.left(left));
  };
  count();
  tick = setInterval(count, 250);
}

function part(selector: string): Element {
  const node = byID("answer").querySelector(selector);
  if (!node) throw new Error(`#answer has no ${selector}`);
  return node;
}

function put(text: string, bad: boolean): void {
  close();
  setText(part("span"), text);
  setText(part("b"), "");
  byID("answer").classList.toggle("bad", bad);
  byID("answer").hidden = false;
  // It may lie over a button that is wanted, and goes at the end of a press, so that this does not go through to that.
  byID("answer").onmousedown = (e) => e.preventDefault(); // a field keeps the focus
  byID("answer").onclick = close;
}

function close(): void {
  clearTimeout(hide);
  clearInterval(tick);
  byID("answer").hidden = true;
}
