// What broke, what is glued or replaced, the spares and the keel; and telling of them.

import { amount, choice, el, group, keyed, type Amount } from "./dom";
import { teller } from "./hold";
import { measuredIn } from "./measure";
import type { Rib, Status, View } from "./state";
import { tell } from "./tell";
import { broke as words } from "./wait-words";

const pair = (a: Amount, of: string): HTMLElement => el("span", { class: "choice" }, a.node, of);
const percent = (label: string): Amount => amount(label, 10, 5, [0, 100], words.pct);

/** breakage shows the ledger and tells of splits, replacements and the keel. */
export function breakage(root: HTMLElement, v: View): void {
  if (root.childElementCount === 0) root.append(...["lines", "split", "replaced", "keel-lift"].map((c) => el("div", { class: c })));
  const [lines, split, replaced, keel] = Array.from(root.children) as [Element, Element, Element, Element];
  const says = words.lines(v.status.ledger);
  keyed(lines, says.join("\n"), () => [el("ul", {}, ...says.map((l) => el("li", {}, l)))]);
  splitRow(split, v.status);
  replacedRow(replaced, v.status);
  keyed(keel, "", () => [keelRow()]);
}

/** cracked are the ribs that cracked and still have their place. */
function cracked(s: Status): string[] {
  return [...(s.ledger.replace ?? []), ...(s.ledger.glue ?? [])];
}

function splitRow(root: Element, s: Status): void {
  const ribs = cracked(s);
  keyed(root, JSON.stringify(ribs), () => {
    if (ribs.length === 0) return [group(words.split, words.none)];
    const rib = choice(words.splitRib, ribs.map((r) => [r, `rib ${r}`]));
    const [across, through] = [percent(words.across), percent(words.through)];
    return [group(words.split, rib, pair(across, words.across), pair(through, words.through),
      teller(words.tellSplit, () => void tell({ kind: "split", rib: rib.value, across_pct: across.value(), through_pct: through.value() }))),
    el("p", { class: "legend" }, words.splitRule)];
  });
}

/** others are the ribs that may have taken a place: out of the box and nobody's replacement yet, first those without a place of their own. */
function others(ribs: Rib[], broken: string[]): string[] {
  const out = ribs.filter((r) => r.place === "pulled" && !r.test && r.replaces === undefined && !broken.includes(r.rib));
  return out.sort((a, b) => Number(a.mark !== "") - Number(b.mark !== "")).map((r) => r.rib);
}

function replacedRow(root: Element, s: Status): void {
  const broken = cracked(s);
  const spares = others(s.ribs ?? [], broken);
  keyed(root, JSON.stringify([broken, spares]), () => {
    if (broken.length === 0) return [];
    if (spares.length === 0) return [group(words.replace, words.noOther)];
    const rib = choice(words.replaced, broken.map((r) => [r, `rib ${r}`]));
    const by = choice(words.by, [["", words.which], ...spares.map((r): [string, string] => [r, `by ${r}`])]);
    const done = teller(words.tellReplaced, () => void tell({ kind: "replaced", rib: rib.value, with: by.value }), { disabled: true });
    by.addEventListener("change", () => (done.disabled = by.value === ""));
    return [group(words.replace, rib, by, done)];
  });
}

function keelRow(): HTMLElement {
  const step = measuredIn() === "us" ? 25.4 / 16 : 1; // mm: a 16th of an inch
  const lift = amount(words.keel, Math.round(5 / step) * step, step, [-100, 100], (mm) => words.lift(mm / 1000));
  return group(words.keel, lift.node, teller(words.tellKeel, () => void tell({ kind: "keel", lift_mm: lift.value() })));
}
