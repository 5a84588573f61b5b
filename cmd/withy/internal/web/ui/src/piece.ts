// Loading a piece that the table does not have: an offcut to learn from, or a spare.

import { choice, el, group, keyed } from "./dom";
import { teller } from "./hold";
import { keepAway, type View } from "./state";
import { tell } from "./tell";
import { piece as words, wait } from "./wait-words";

type Kind = keyof typeof words.kinds;

const letters: Record<Kind, string> = { test: "T", spare: "S" };
const longest = 12; // characters that fit on a piece of wood, and on the page

/** piece asks what it is, what is written on it and where it goes. */
export function piece(root: HTMLElement, v: View): void {
  const labels = (v.status.ribs ?? []).map((r) => r.rib);
  const free = (v.status.slots ?? []).filter((s) => s.rib === undefined).map((s) => s.slot);
  const away = keepAway(v);
  keyed(root, JSON.stringify([labels, free, away]), () => (away ? [el("p", { class: "careful" }, wait.away)] : row(labels, free)));
}

function row(labels: string[], free: string[]): Node[] {
  const kinds = Object.keys(letters) as Kind[];
  const kind = choice(words.title, kinds.map((k) => [k, words.kinds[k]]));
  const called = el("input", { "aria-label": words.called, value: suggested("test", labels), maxlength: longest, size: 4, autocomplete: "off", autocapitalize: "characters" });
  kind.addEventListener("change", () => (called.value = suggested(kind.value as Kind, labels)));
  const load = (slot: string): void => {
    const rib = called.value.trim() || suggested(kind.value as Kind, labels);
    void tell({ kind: "loaded", rib, slot, ...(kind.value === "test" ? { test: true } : {}) });
  };
  return [
    group(words.called, called, kind, ...(free.length > 0 ? free.map((slot) => teller(words.into(slot), () => load(slot))) : [words.full])),
    el("p", { class: "legend" }, words.rule),
  ];
}

/** suggested is the first label of its kind that nothing bears yet, such as T1. */
export function suggested(kind: Kind, labels: string[]): string {
  for (let n = 1; ; n++) {
    const label = `${letters[kind]}${n}`;
    if (!labels.includes(label)) return label;
  }
}
