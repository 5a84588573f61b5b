// What is set for this box and this stick: a form, of which only what was changed is
// sent. Mistakes stand at their fields.

import { button, choice, el, keyed, setText } from "./dom";
import { before, settings as words } from "./before-words";
import type { Step } from "./fold";
import { Fetched } from "./fetched";
import { teller } from "./hold";
import { measuredIn } from "./measure";
import { problems } from "./mistakes";
import { unitName } from "./quantity";
import { answer } from "./said";
import { newID, sendUntilTaken } from "./tell";
import { asText, drafted, draftText, mistakesOf, range, type Draft, type Setting, type Value } from "./values";

const known = new Fetched<Setting[]>(() => "/api/settings", async (r) => ((await r.json()) as { settings: Setting[] | null }).settings ?? []);

const drafts = new Map<string, Draft>(); // by key
let wrong = new Map<string, string[]>(); // mistakes by key, "" for those of none
const opened = new Set<string>(); // groups
let drawn = 0; // another when the form must be made anew
let form: HTMLElement | null = null;
const listeners: (() => void)[] = [];

/** onSet calls hear each time that something was set. */
export function onSet(hear: () => void): void {
  listeners.push(hear);
}

/** settingsChanged has them asked for again: another screen may have set some. */
export function settingsChanged(): void {
  known.changed();
}

/** settingsStep is open until something of this box was set, by a file or here. */
export function settingsStep(): Step {
  if (wrong.size > 0) return "wrong";
  return (known.get() ?? []).some((s) => s.from !== "default") ? "good" : "open";
}

/** settingsGist says how much was set for this box, and how much is typed and not sent. */
export function settingsGist(): string {
  return words.gist((known.get() ?? []).filter((s) => s.from !== "default").length, drafts.size);
}

/** settings shows the form. What is typed stays while views come and go. */
export function settings(root: HTMLElement): void {
  form = root;
  const list = known.get();
  keyed(root, `${known.version} ${drawn} ${measuredIn()}`, () => (list === null
    ? [el("p", {}, known.failed ? before.failed : before.asks)]
    : [el("p", {}, words.intro), problems(wrong.get("") ?? []), ...grouped(list).map(([name, some]) => section(name, some)), sending(list)]));
}

function again(): void {
  drawn++;
  if (form) settings(form);
}

/** grouped puts settings together that belong together, in the order in which they come. */
function grouped(list: Setting[]): [string, Setting[]][] {
  const out = new Map<string, Setting[]>();
  for (const s of list) out.set(s.group, [...(out.get(s.group) ?? []), s]);
  return [...out];
}

function section(name: string, some: Setting[]): HTMLElement {
  const bad = some.some((s) => wrong.has(s.key));
  const node = el("details", { class: "part", open: bad || opened.has(name) }, el("summary", {}, words.groups[name] ?? name), ...some.map(field));
  node.addEventListener("toggle", () => (node.open ? opened.add(name) : opened.delete(name)));
  return node;
}

const idOf = (s: Setting): string => `set-${s.key.replaceAll(".", "-")}`;

/** field is one setting: its name, what is typed, unit and range, and what is wrong with it. */
function field(s: Setting): HTMLElement {
  const [id, mistakes] = [idOf(s), wrong.get(s.key) ?? []];
  const note = [s.help ?? "", range(s), words.from[s.from]].filter((t) => t !== "").join(" · ");
  const says = el("p", { class: "mistake", id: `${id}-wrong` }, mistakes.join(" "));
  const input = entry(s, { id, "aria-describedby": `${id}-note ${id}-wrong`, "aria-invalid": mistakes.length > 0 ? "true" : undefined });
  const typed = (): void => {
    const text = input instanceof HTMLInputElement && input.type === "checkbox" ? String(input.checked) : input.value;
    if (text === asText(s)) drafts.delete(s.key);
    else drafts.set(s.key, drafted(s, text));
    wrong.delete(s.key);
    setText(says, "");
    input.removeAttribute("aria-invalid");
    count();
  };
  input.addEventListener("input", typed);
  return el("div", { class: "field" }, el("label", { for: id }, s.says), el("span", { class: "value" }, input, unit(s), back(s)),
    el("p", { class: "note", id: `${id}-note` }, note), says);
}

/** back takes back what was set here, so that what the file says is in use again. */
function back(s: Setting): HTMLElement | null {
  return s.from === "page" ? teller(words.back, () => void send({ [s.key]: null }), { "aria-label": words.backOf(s.says) }) : null;
}

function unit(s: Setting): HTMLElement | null {
  const name = s.kind === "number" ? unitName(s.unit ?? "") : "";
  return name === "" ? null : el("span", { class: "unit" }, name);
}

type Attributes = Record<string, string | undefined>;

function entry(s: Setting, attributes: Attributes): HTMLInputElement | HTMLSelectElement {
  const draft = drafts.get(s.key);
  const text = draft ? draftText(s, draft) : asText(s);
  if (s.kind === "switch") return el("input", { ...attributes, type: "checkbox", checked: text === "true" });
  if (s.kind === "word") return select(s, text, attributes);
  const keyboard = s.kind === "number" && (measuredIn() === "metric" || s.unit !== "mm") ? "decimal" : undefined;
  return el("input", { ...attributes, value: text, inputmode: keyboard, autocomplete: "off", autocapitalize: "off" });
}

function select(s: Setting, chosen: string, attributes: Attributes): HTMLSelectElement {
  const options = [...(s.none ? [""] : []), ...(s.words ?? [])].map((w): [string, string] => [w, words.word(w)]);
  const known = options.some(([w]) => w === chosen);
  const node = choice(s.says, known ? options : [[chosen, words.word(chosen)], ...options], chosen);
  for (const [name, value] of Object.entries(attributes)) if (value !== undefined) node.setAttribute(name, value);
  return node;
}

/** sending is the button that sets what was changed, and the one that forgets it. */
function sending(list: Setting[]): HTMLElement {
  return el("div", { class: "choice send" }, teller(words.set(drafts.size), () => void set(list), { class: "main", disabled: drafts.size === 0 }),
    button(before.undo, () => { drafts.clear(); wrong = new Map(); again(); }, { disabled: drafts.size === 0 }));
}

/** count keeps the two buttons up to date. */
function count(): void {
  const buttons = form?.querySelectorAll<HTMLButtonElement>(".send button") ?? [];
  for (const b of buttons) b.disabled = drafts.size === 0;
  if (buttons[0]) setText(buttons[0], words.set(drafts.size));
}

/** set sends what was changed, or shows at each field what is wrong with it. */
async function set(list: Setting[]): Promise<void> {
  const values: Record<string, Value> = {};
  wrong = new Map();
  for (const s of list) {
    const read = drafts.get(s.key)?.read;
    if (read === undefined) continue;
    if ("mistake" in read) wrong.set(s.key, [read.mistake]);
    else values[s.key] = read.value;
  }
  if (wrong.size > 0) return refused(list);
  await send(values);
}

/** send sets values by their keys; null takes back what was set here. */
async function send(values: Record<string, Value | null>): Promise<void> {
  const { problem, mistakes } = await sendUntilTaken("/api/settings", { id: newID(), set: values });
  const list = known.value ?? [];
  if (problem !== "") {
    wrong = mistakesOf(mistakes.length > 0 ? mistakes : [problem], list);
    return refused(list);
  }
  for (const key of Object.keys(values)) drafts.delete(key);
  answer(words.done, false);
  known.changed();
  for (const hear of listeners) hear();
  again();
}

/** refused shows the mistakes, and goes to the first field that has one, else to what no field has. */
function refused(list: Setting[]): void {
  again();
  answer(before.refused, true);
  const first = list.find((s) => wrong.has(s.key));
  if (first) document.getElementById(idOf(first))?.focus();
  else form?.querySelector(".mistakes")?.scrollIntoView({ block: "start" });
}
