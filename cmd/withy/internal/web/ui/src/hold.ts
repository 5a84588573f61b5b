// Buttons that tell something. While ribs are in the box such a button is held until
// it has filled, so that a drip, a sleeve or a passing glove tells nothing.

import { el } from "./dom";
import { hold as words } from "./device-words";
import { answer } from "./said";
import type { Status } from "./state";

const long = 600; // ms; the page's style fills the button in the same time

let guarded = false;

/** guard says whether buttons must be held now. */
export function guard(s: Status): void {
  guarded = (s.slots ?? []).some((slot) => slot.rib !== undefined);
  document.body.dataset.guarded = String(guarded);
}

/** teller makes a button that tells something: by a tap, or held while ribs are in the box. Keyboards and screen readers press it at once. */
export function teller(label: string, press: () => void, attributes: Record<string, string | boolean> = {}): HTMLButtonElement {
  const node = el("button", { type: "button", ...attributes, "data-tells": true }, label);
  let timer: number | undefined;
  let [aloud, done] = [false, false];
  const stop = (): void => {
    clearTimeout(timer);
    delete node.dataset.held;
  };
  node.addEventListener("pointerdown", (e) => {
    [aloud, done] = [byScreenReader(e), false];
    if (!guarded || aloud || node.disabled || e.button !== 0) return;
    node.dataset.held = "";
    timer = setTimeout(() => {
      stop();
      if (!node.isConnected) return;
      done = true;
      press();
    }, long);
  });
  for (const end of ["pointerup", "pointerleave", "pointercancel"]) node.addEventListener(end, stop);
  node.addEventListener("contextmenu", (e) => { if (guarded) e.preventDefault(); });
  node.addEventListener("click", (e) => {
    if (done && e.detail !== 0) return;
    if (!guarded || aloud || e.detail === 0) press();
    else answer(words.longer, false);
  });
  return node;
}

/** byScreenReader reports whether a press was made up by a screen reader: such a pointer has no size, or no pressure. */
function byScreenReader(e: PointerEvent): boolean {
  return (e.width === 0 && e.height === 0) || (e.pointerType === "mouse" && e.pressure === 0);
}
