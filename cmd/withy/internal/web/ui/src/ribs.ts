// The rib table: from a file, or typed with thumbs. What is typed stays here until it
// is taken; without a table the box takes any rib.

import { before, ribTable as words } from "./before-words";
import { button, el, keyed, setText } from "./dom";
import { keepDraft, storedDraft } from "./draft";
import type { Step } from "./fold";
import { teller } from "./hold";
import { keptTable, wayBack } from "./kept-table";
import { keypad, thumbs } from "./keypad";
import { measuredIn, type Units } from "./measure";
import { inTheirUnits, placed, problems, readable } from "./mistakes";
import { answer } from "./said";
import type { View } from "./state";
import { asFile, difficulties, emptyLine, fieldOf, following, fromFile, inOwnUnits, total, withCell, type Line, type Mistake } from "./table";
import { sendTable } from "./tell";
import { upload } from "./upload";
import { tryVoice, voiceless } from "./voice";

type Typed = Exclude<keyof Line, "bend" | "meant" | "came">;

const known = keptTable("/api/ribs");
const rest: Typed[] = ["station", "thickness", "width", "stick", "boat"];
const measured: Typed[] = ["length", "station", "thickness", "width"];
const heads = ["rib", "length", "bend"] as const;

const kept = storedDraft();
let lines: Line[] | null = kept?.lines ?? null; // as they stand in the fields
let typedIn: Units = kept?.typedIn ?? "metric";
let typed = kept !== null; // something that was not taken yet
let wrong: Mistake[] = [];
let refusals: string[] = [];
let opened = -1; // the line of which all fields are shown
let withKeys: boolean | null = null; // the keypad is shown; null: as the device is
let current: HTMLInputElement | null = null; // the field that was touched last
let drawn = 0; // another when the lines must be made anew
let form: HTMLElement | null = null;
const listeners: (() => void)[] = [];

/** onRibs calls hear each time that another table was taken. */
export function onRibs(hear: () => void): void {
  listeners.push(hear);
}

/** ribsChanged has the table asked for again: another screen may have put in another. */
export function ribsChanged(): void {
  known.changed();
}

/** ribsStep is good once there is a table. */
export function ribsStep(v: View): Step {
  if (wrong.length > 0 || refusals.length > 0) return "wrong";
  return tabled(v).length > 0 ? "good" : "open";
}

/** ribsGist is how many there are and how long they are together. */
export function ribsGist(v: View): string {
  if (typed && lines) return words.gist(sumOf(lines));
  const ribs = tabled(v);
  return ribs.length === 0 ? words.noTable : words.sum(ribs.length, ribs.reduce((m, r) => m + r.length_m, 0));
}

function tabled(v: View): { length_m: number }[] {
  return (v.status.ribs ?? []).filter((r) => r.length_m > 0 && !r.test);
}

/** ribs shows the table as fields. */
export function ribs(root: HTMLElement): void {
  form = root;
  const kept = known.get();
  if (typed && typedIn !== measuredIn()) lines = (lines ?? []).map((l) => inOwnUnits(l, typedIn));
  typedIn = measuredIn();
  keyed(root, `${known.version} ${drawn} ${measuredIn()}`, () => (kept === null
    ? [el("p", {}, known.failed ? before.failed : before.asks)]
    : table(lines = typed && lines ? lines : fromFile(kept.csv))));
}

function table(all: Line[]): Node[] {
  const keys = withKeys ?? thumbs();
  return [
    el("p", {}, words.intro), el("p", { class: "legend" }, words.lengthsIn()),
    el("div", { class: "choice" }, upload((text) => void take(text)),
      button(words.keypad, () => { withKeys = !keys; again(); }, { "aria-pressed": String(keys) }),
      wayBack("/api/ribs", known, isAnother),
      button(words.anew, anew, { disabled: all.length === 0 })),
    problems(refusals),
    el("div", { class: "rib-line heads", "aria-hidden": "true" }, ...heads.map((h) => el("span", {}, words.heads[h]))),
    el("ol", { class: "rib-lines" }, ...all.map((l, i) => line(l, i, keys))),
    el("p", { class: "sum" }, sumOf(all)),
    el("div", { class: "choice send" }, button(words.add, add),
      button(words.readBack, readBack, { disabled: all.length === 0 }),
      teller(words.take, () => void takeTyped(), { class: "main", disabled: !typed }),
      button(before.undo, forget, { disabled: !typed && refusals.length === 0 })),
    ...(keys ? [keypad(() => (current?.isConnected ? current : null), { copy: copyAbove, next: below })] : []),
  ];
}

const sumOf = (all: Line[]): string => {
  const { ribs: n, m } = total(all);
  return words.sum(n, m);
};

const idOf = (i: number, f: string): string => `rib-${i}-${f}`;

function line(l: Line, i: number, keys: boolean): HTMLElement {
  const open = i === opened;
  const mistakes = wrong.filter((w) => w.line === i);
  const more = button(words.more, () => { opened = open ? -1 : i; again(); },
    { id: idOf(i, "more"), "aria-expanded": String(open), "aria-label": words.moreOf(l.rib) });
  return el("li", {},
    el("div", { class: "rib-line" }, field(l, i, "rib", keys), field(l, i, "length", keys), bend(l, i), more),
    el("p", { class: "mistake", id: idOf(i, "wrong") }, mistakes.map((w) => w.says).join(" ")),
    open ? el("div", { class: "rib-more" }, ...rest.map((f) => el("label", {}, el("span", {}, words.heads[f]), field(l, i, f, keys))), meant(l, i),
      button(words.remove, () => remove(i))) : null);
}

function field(l: Line, i: number, f: Typed, keys: boolean): HTMLInputElement {
  const own = measured.includes(f) && keys;
  const bad = wrong.some((w) => w.line === i && w.field === f);
  const input = el("input", {
    id: idOf(i, f), class: f, value: l[f], "aria-label": words.of(words.heads[f], l.rib), "aria-describedby": idOf(i, "wrong"),
    "aria-invalid": bad ? "true" : undefined, autocomplete: "off", autocapitalize: "off", inputmode: own ? "none" : undefined, placeholder: f === "length" ? words.heads.length : undefined,
  });
  input.addEventListener("focus", () => (current = input));
  input.addEventListener("input", () => {
    l[f] = input.value;
    input.removeAttribute("aria-invalid");
    changed();
  });
  input.addEventListener("keydown", (e) => {
    if (e.key !== "Enter" || e.isComposing) return;
    e.preventDefault();
    below();
  });
  return input;
}

/** bend is tapped from one difficulty to the next. */
function bend(l: Line, i: number): HTMLButtonElement {
  const order: Line["bend"][] = ["", ...difficulties];
  const tapped = (): void => {
    l.bend = order[(order.indexOf(l.bend) + 1) % order.length] ?? "";
    setText(node, words.bends[l.bend]);
    node.setAttribute("aria-label", words.bendOf(l.rib, l.bend));
    changed();
  };
  const node = button(words.bends[l.bend], tapped, { id: idOf(i, "bend"), class: "bend-of", "aria-label": words.bendOf(l.rib, l.bend) });
  return node;
}

function meant(l: Line, i: number): HTMLElement {
  const box = el("input", { id: idOf(i, "meant"), type: "checkbox", checked: l.meant });
  box.addEventListener("change", () => { l.meant = box.checked; changed(); });
  return el("label", { class: "meant" }, box, el("span", {}, words.meant));
}

/** changed takes note that something was typed, without making any field anew. */
function changed(): void {
  noteTyped();
  if (lines) setText(form?.querySelector(".sum") ?? el("p"), sumOf(lines));
  for (const b of form?.querySelectorAll<HTMLButtonElement>(".send button") ?? []) b.disabled = false;
}

function noteTyped(): void {
  typed = true;
  if (lines) keepDraft({ lines, typedIn });
}

/** again makes the fields anew; the focus stays, or goes where it is asked to. */
function again(focus = ""): void {
  drawn++;
  if (form) ribs(form);
  if (focus !== "") goTo(focus);
}

/** goTo has what is typed next take the place of what stands in a field, as after a Tab. */
function goTo(id: string): void {
  const field = document.getElementById(id);
  field?.focus();
  if (field instanceof HTMLInputElement) field.select();
}

function add(): void {
  const all = (lines ??= []);
  all.push(following(all));
  noteTyped();
  again(idOf(all.length - 1, "length"));
}

/** anew puts an empty line in the place of all: the ribs of another boat. What stood there comes back by forgetting that. */
function anew(): void {
  [lines, wrong, refusals, opened] = [[emptyLine("1")], [], [], -1];
  noteTyped();
  again(idOf(0, "length"));
}

function remove(i: number): void {
  lines?.splice(i, 1);
  [wrong, opened] = [[], -1];
  noteTyped();
  again(idOf(Math.max(0, i - 1), "length"));
}

/** where is the line and the field that was touched last. */
function where(): { i: number; f: Typed } | null {
  const [, i, f] = /^rib-(\d+)-(\w+)$/.exec(current?.id ?? "") ?? [];
  return i === undefined || f === undefined ? null : { i: Number(i), f: f as Typed };
}

/** below goes to the same field of the next line; after the last length comes a new line. */
function below(): void {
  const at = where();
  if (!at || !lines) return;
  if (at.i + 1 >= lines.length) return add();
  goTo(idOf(at.i + 1, at.f === "rib" ? "rib" : "length"));
}

function copyAbove(): void {
  const at = where();
  const above = at && lines?.[at.i - 1]?.[at.f];
  if (!at || above === undefined || above === null || !current) return;
  current.value = above;
  current.dispatchEvent(new Event("input", { bubbles: true }));
}

function readBack(): void {
  if (!lines) return;
  answer(voiceless() ? `${sumOf(lines)}. ${words.noVoice}` : sumOf(lines), false);
  tryVoice([...lines.map((l) => words.readLine(l.rib, l.length)), sumOf(lines)].join(" "), 0);
}

function forget(): void {
  [lines, typed, wrong, refusals, opened] = [null, false, [], [], -1];
  keepDraft(null);
  again();
}

async function takeTyped(): Promise<void> {
  if (!lines) return;
  const file = asFile(lines);
  if ("mistakes" in file) return refused(file.mistakes, []);
  await take(file.csv, true);
}

/** refused shows what is wrong beside the lines, and the rest above them, and goes to the first of it. */
function refused(beside: Mistake[], others: string[]): void {
  [wrong, refusals] = [beside, others];
  answer(before.refused, true);
  const first = beside[0];
  if (first && rest.some((f) => f === first.field)) opened = first.line;
  again(first && idOf(first.line, first.field));
  (first ? document.activeElement : form?.querySelector(".mistakes"))?.scrollIntoView({ block: "start" });
}

/** take sends a table: a file, or the lines as they were typed, beside which its mistakes then stand. */
async function take(csv: string, fromLines = false): Promise<void> {
  const { problem, mistakes, body } = await sendTable("/api/ribs", csv);
  if (problem !== "") {
    const all = mistakes.length > 0 ? mistakes : [problem];
    const ofLine = (m: string): boolean => fromLines && placed(m).line > 1;
    return refused(all.filter(ofLine).map(beside), readable(all.filter((m) => !ofLine(m))));
  }
  isAnother();
  const n = (body as { ribs: number }).ribs;
  const sum = fromLines ? sumOf(fromFile(csv)) : words.taken(n);
  answer(words.taken(n), false);
  tryVoice(sum, 0);
}

/** beside is a mistake in the file that was made of the lines, at its line: the file has the heads of its columns above them. */
function beside(mistake: string): Mistake {
  const { line, column, says } = placed(mistake);
  return { line: line - 2, field: fieldOf(column), says: inTheirUnits(says) };
}

/** isAnother drops what was typed: the box has another table. */
function isAnother(): void {
  known.changed();
  forget();
  for (const hear of listeners) hear();
}

/** putRight changes one cell of the table that the box has, and reports what is wrong with that, "" if nothing. */
export async function putRight(boat: string, rib: string, column: string, value: string): Promise<string> {
  const response = await fetch("/api/ribs").catch(() => null);
  if (!response?.ok) return before.failed;
  const { problem } = await sendTable("/api/ribs", withCell(await response.text(), boat, rib, column, value));
  if (problem === "") {
    known.changed();
    for (const hear of listeners) hear();
  }
  return problem;
}
