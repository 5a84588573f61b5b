// After the run: no rib is in the box and none is to go. What is to be done now, what
// is put right with dry hands, the report, the next boat. The call and the alarms stay
// where they are.

import { after as words } from "./after-words";
import { byID, el, keyed } from "./dom";
import type { Fold } from "./fold";
import { teller } from "./hold";
import { keepAway, pulled, type Status, type View } from "./state";
import { tell } from "./tell";

/** afterRun reports whether the run is over: ribs came out, none is in, and none is to go in. */
export function afterRun(s: Status): boolean {
  if (pulled(s) === 0 || s.resting || (s.slots ?? []).some((slot) => slot.rib !== undefined)) return false;
  return s.calls?.[0]?.do === "done" || (s.bent.to_go === 0 && (s.heat_off || s.phase === "cooling"));
}

/**
 * after shows it while it is so. The corrections and the next boat, which are folds in the
 * wait until then, come here as it begins, the corrections open, and go back if the run goes on.
 */
export function after(v: View, corrections: Fold, another: Fold): void {
  const root = byID("after");
  const s = v.status;
  const over = afterRun(s);
  if (root.childElementCount === 0) root.append(el("h2", {}, words.title), ...["bent", "heat", "advice", "report"].map((c) => el("div", { class: c })));
  if (over === root.hidden) {
    corrections.node.open = over;
    (over ? root : byID("wait")).append(another.node, corrections.node);
  }
  root.hidden = !over;
  document.body.dataset.after = String(over);
  if (!over) return;
  const [, bent, heat, left, report] = Array.from(root.children) as [Element, Element, Element, Element, Element];
  keyed(bent, words.bent(s.bent), () => [el("p", {}, words.bent(s.bent))]);
  keyed(heat, JSON.stringify([s.heat_off, s.boiler_kind, words.watched(s)]), () => heatLines(s));
  const todo = keepAway(v) ? [words.away] : [...(v.advice ?? []), ...words.ledger(s.ledger)];
  keyed(left, todo.join("\n"), () => (todo.length === 0 ? [] : [el("h3", {}, words.todo), el("ul", {}, ...todo.map((t) => el("li", {}, t)))]));
  keyed(report, "", () => [
    el("p", {}, el("a", { href: "/report", target: "_blank", rel: "noopener" }, words.report), " ", words.reportSays),
    el("p", {}, el("a", { href: "/history", target: "_blank", rel: "noopener" }, words.history), ": ", words.historySays),
    el("p", {}, words.next),
  ]);
}

/** heatLines are what comes first: the fire, and the watch that goes on until the box is cold. */
function heatLines(s: Status): Node[] {
  const fire = s.heat_off
    ? el("p", { class: "question" }, words.heatIsOff)
    : el("div", { class: "choice" }, el("p", { class: "question" }, words.heatOff), teller(words.tellHeatOff, () => void tell({ kind: "heat", on: false }), { class: "main" }));
  const lines = [fire, el("p", {}, words.watched(s))];
  if (s.boiler_kind === "closed-tank") lines.push(el("p", { class: "careful" }, words.tank));
  return lines;
}
