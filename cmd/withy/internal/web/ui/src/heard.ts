// Whether the sound is heard, asked with the tap that allows it: what plays without
// an error may still be silent.

import { button, byID, el } from "./dom";
import { heard as words } from "./device-words";

/** askHeard plays once and asks whether that was heard; a no says what to look at. */
export function askHeard(play: () => void, withVoice: boolean): void {
  play();
  const yes = button(words.yes, shut);
  show(el("b", {}, words.ask), el("span", {}, withVoice ? words.asks : words.asksSoundOnly),
    el("span", { class: "choice" }, yes, button(words.no, () => check(play, withVoice))));
  yes.focus();
}

/** shut takes the question away. */
export function shut(): void {
  const root = byID("heard");
  root.hidden = true;
  root.replaceChildren();
}

function check(play: () => void, withVoice: boolean): void {
  const again = button(words.again, () => askHeard(play, withVoice));
  show(el("b", {}, words.check), el("ul", {}, ...words.checks.map((c) => el("li", {}, c))), el("span", { class: "choice" }, again, button(words.close, shut)));
  again.focus();
}

function show(...children: Node[]): void {
  const root = byID("heard");
  root.replaceChildren(...children);
  root.hidden = false;
}
