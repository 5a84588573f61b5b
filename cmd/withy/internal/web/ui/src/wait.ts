// In the wait: what is asked, what is advised, and all that is looked at when there
// is a quiet minute.

import { nextBoat as nextWords } from "./after-words";
import { allGood, question } from "./ask";
import { breakage } from "./breakage";
import { hulls } from "./hull";
import { byID, el, keyed } from "./dom";
import { Fold } from "./fold";
import { nextBoat } from "./next-boat";
import { piece } from "./piece";
import { reached } from "./reach";
import { putRight } from "./right";
import { beforeRun, keepAway, type View } from "./state";
import { paceAndHeat, supply } from "./steam";
import { sticks } from "./stick";
import { boat, broke, piece as pieceWords, pot, reach, right, steam, stick, wait as words } from "./wait-words";

/** corrections puts right what was told; after the run it is looked at first. */
export const corrections = new Fold(right.title, () => right.gist, putRight);

/** pieces loads what the table does not have: a test piece, or a spare. */
export const pieces = new Fold(pieceWords.title, () => pieceWords.gist, piece);

/** another begins the log of another boat; after the run it is looked for there. */
export const another = new Fold(nextWords.title, () => nextWords.gist, nextBoat);

const folds = [
  new Fold(stick.title, (v) => stick.gist(v.status.sticks ?? []), sticks),
  new Fold(boat.title, (v) => boat.gist(v.status), hulls),
  new Fold(steam.title, (v) => steam.gist(v.status), paceAndHeat),
  new Fold(pot.title, (v) => pot.gist(v.status.water), supply),
  new Fold(broke.title, (v) => broke.gist(v.status.ledger), breakage),
  pieces,
  corrections,
  another,
];
const told = new Fold(reach.title, (v) => reach.gist(v.outputs ?? []), reached);

/** wait shows it all, and in the corner of its button how many questions are open. */
export function wait(v: View, tool: HTMLElement): void {
  const root = byID("wait");
  if (root.childElementCount === 0) {
    root.append(el("h2", {}, words.title), ...["asked", "untold", "advice"].map((c) => el("div", { class: c })), ...folds.map((f) => f.node), told.node);
  }
  const [, asked, good, advised] = Array.from(root.children) as [Element, Element, Element, Element];
  const questions = Number(question(asked, v)) + Number(allGood(good, v));
  advice(advised, v, questions === 0);
  for (const fold of [...folds, told]) fold.show(v);
  another.node.hidden = beforeRun(v.status);
  told.node.hidden = (v.outputs ?? []).length === 0;
  tool.dataset.asked = questions === 0 ? "" : `${questions}?`;
  tool.setAttribute("aria-label", words.asked(questions));
}

function advice(root: Element, v: View, quiet: boolean): void {
  const sentences = v.advice ?? [];
  const away = keepAway(v);
  keyed(root, JSON.stringify([sentences, quiet, away]), () => {
    if (away) return [el("p", { class: "careful" }, words.away)];
    if (sentences.length > 0) return [el("ul", {}, ...sentences.map((s) => el("li", {}, s)))];
    return quiet ? [el("p", {}, words.nothing)] : [];
  });
}
