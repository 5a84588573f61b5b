// Test bends from before the run: from a file, or typed; or made now, with offcuts.

import { before, bends as words } from "./before-words";
import { bendsFile, bendsFrom, nextBend, outcomes, type Bend } from "./bend-table";
import { button, choice, el, keyed } from "./dom";
import type { Step } from "./fold";
import { teller } from "./hold";
import { keptTable, wayBack } from "./kept-table";
import { measuredIn } from "./measure";
import { problems, readable } from "./mistakes";
import { answer } from "./said";
import type { View } from "./state";
import { difficulties } from "./table";
import { sendTable } from "./tell";
import { upload } from "./upload";

const known = keptTable("/api/bends");

let all: Bend[] | null = null; // as they stand in the fields; null: as the box has them
let typed = false;
let refusals: string[] = [];
let drawn = 0; // another when the fields must be made anew
let form: HTMLElement | null = null;
let pieces: () => void = () => undefined;
const listeners: (() => void)[] = [];

/** onBends calls hear each time that other bends were taken. */
export function onBends(hear: () => void): void {
  listeners.push(hear);
}

/** bendsChanged has them asked for again. */
export function bendsChanged(): void {
  known.changed();
}

/** toPieces is what leads to the loading of test pieces. */
export function toPieces(go: () => void): void {
  pieces = go;
}

/** told reports whether a bend tells of one of today's sticks. */
function told(v: View): boolean {
  return (v.status.sticks ?? []).some((k) => k.bends > 0);
}

/** bendsStep is good once a bend tells of the stick. */
export function bendsStep(v: View): Step {
  if (refusals.length > 0) return "wrong";
  return told(v) ? "good" : "open";
}

/** bendsGist is how many there are, once they are known. */
export function bendsGist(v: View): string {
  if (known.value !== null) return words.gist(bendsFrom(known.value.csv).length);
  return told(v) ? words.tell : words.gist(0);
}

/** bends shows them as fields. */
export function bends(root: HTMLElement): void {
  form = root;
  const kept = known.get();
  keyed(root, `${known.version} ${drawn} ${measuredIn()}`, () => (kept === null
    ? [el("p", {}, known.failed ? before.failed : before.asks)]
    : list(all = typed && all ? all : bendsFrom(kept.csv))));
}

function list(bent: Bend[]): Node[] {
  return [
    el("p", {}, words.intro()),
    el("div", { class: "choice" }, upload((text) => void take(text)), button(words.pieces, () => pieces()), wayBack("/api/bends", known, isAnother)),
    el("p", { class: "legend" }, words.piecesSay),
    el("p", {}, el("a", { href: "/history", target: "_blank", rel: "noopener" }, words.history)),
    problems(refusals),
    el("ol", { class: "bend-lines" }, ...bent.map(line)),
    el("div", { class: "choice send" }, button(words.add, add), teller(words.take, takeTyped, { class: "main", disabled: !typed }),
      button(before.undo, forget, { disabled: !typed && refusals.length === 0 })),
  ];
}

const idOf = (i: number, f: string): string => `bend-${i}-${f}`;

function line(b: Bend, i: number): HTMLElement {
  const name = (f: keyof typeof words.heads): string => words.of(words.heads[f], i + 1);
  const text = (f: "heat" | "stick" | "thickness"): HTMLElement => {
    const input = el("input", { id: idOf(i, f), class: f, value: b[f], inputmode: f === "heat" ? "decimal" : undefined, autocomplete: "off", "aria-label": name(f) });
    input.addEventListener("input", () => { b[f] = input.value; changed(); });
    return el("label", {}, el("span", {}, words.heads[f]), input);
  };
  const outcome = choice(name("outcome"), outcomes.map((o) => [o, words.bent[o]]), b.outcome);
  outcome.addEventListener("change", () => { b.outcome = outcome.value as Bend["outcome"]; changed(); });
  const bend = choice(name("bend"), difficulties.map((d) => [d, d]), b.bend);
  bend.addEventListener("change", () => { b.bend = bend.value as Bend["bend"]; changed(); });
  return el("li", {}, text("heat"), outcome, text("thickness"), text("stick"), bend,
    button(words.removeShort, () => remove(i), { "aria-label": words.remove(i + 1) }));
}

function changed(): void {
  typed = true;
  for (const b of form?.querySelectorAll<HTMLButtonElement>(".send button") ?? []) b.disabled = false;
}

function again(focus = ""): void {
  drawn++;
  if (form) bends(form);
  if (focus !== "") document.getElementById(focus)?.focus();
}

function add(): void {
  all = [...(all ?? []), nextBend(all?.[all.length - 1])];
  typed = true;
  again(idOf(all.length - 1, "heat"));
}

function remove(i: number): void {
  all?.splice(i, 1);
  typed = true;
  again(idOf(Math.max(0, i - 1), "heat"));
}

function forget(): void {
  [all, typed, refusals] = [null, false, []];
  again();
}

function takeTyped(): void {
  const file = bendsFile(all ?? []);
  if ("csv" in file) void take(file.csv);
  else refused(file.mistakes);
}

function refused(mistakes: string[]): void {
  refusals = mistakes;
  answer(before.refused, true);
  again();
}

async function take(csv: string): Promise<void> {
  const { problem, mistakes, body } = await sendTable("/api/bends", csv);
  if (problem !== "") return refused(readable(mistakes.length > 0 ? mistakes : [problem]));
  isAnother();
  answer(words.taken((body as { bends?: number }).bends ?? 0), false);
}

/** isAnother drops what was typed: the box has other bends. */
function isAnother(): void {
  known.changed();
  forget();
  for (const hear of listeners) hear();
}
