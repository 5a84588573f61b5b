// Putting right what was told: line by line, the last first. Everything after a line
// is reckoned again by the daemon, which refuses what can't be.

import { device } from "./device";
import { side } from "./device-words";
import { button, el, keyed } from "./dom";
import { teller } from "./hold";
import { lines, type Line } from "./log";
import type { Mark, Outcome, Told, Trace, TraceEvent, View } from "./state";
import { onTold, tell, tellAll } from "./tell";
import { outcomeWords, right as words } from "./wait-words";
import { about } from "./words";

const every = 15_000; // ms between two looks while it is open
const steps = [15, 30, 60, 120, 300]; // s that something may have been earlier
const outcomes: Outcome[] = ["supple", "stiff", "cracked"];
const toTheEnd = 1e9; // s: what was told a moment ago is later than the newest view
const few = 12; // lines at first, and more of them each time

let told: Line[] = [];
let logged: TraceEvent[] = []; // as it was last read
let mine: TraceEvent[] = []; // corrections of this page: the log may have them a little later
let now = 0; // s of the session
let failed = false;
let readAt = -Infinity;
let session = "";
let chosen = ""; // the line that is being put right
let refused = { id: "", says: "" };
let shown = few;
let place: HTMLElement | null = null;

onTold((event) => {
  readAt = -Infinity;
  if (event.kind !== "struck" && event.kind !== "amended") return;
  mine.push({ elapsed_s: now, event });
  reckon();
});

/** putRight shows what was told; it reads the log now and then. */
export function putRight(root: HTMLElement, v: View): void {
  place = root;
  now = v.status.elapsed_s;
  if (v.session !== session) {
    [session, told, logged, mine, readAt] = [v.session, [], [], [], -Infinity];
  }
  if (performance.now() - readAt > every) void read();
  draw(root);
}

async function read(): Promise<void> {
  readAt = performance.now();
  try {
    const response = await fetch(`/api/trace?most=2&to=${toTheEnd}`, { signal: AbortSignal.timeout(10_000) });
    if (!response.ok) throw new Error(String(response.status));
    logged = ((await response.json()) as Trace).events ?? [];
    failed = false;
    reckon();
  } catch {
    failed = true;
  }
  if (place) draw(place);
}

/** reckon works out what was told from the log and from what it does not have yet. */
function reckon(): void {
  const known = new Set(logged.map((e) => e.event.id));
  told = lines([...logged, ...mine.filter((e) => !known.has(e.event.id))]);
}

function again(): void {
  if (place) draw(place);
}

function draw(root: HTMLElement): void {
  const key = told.slice(0, shown).map((l) => [l.id, l.at, l.struckBy, l.changes]);
  keyed(root, JSON.stringify([key, told.length, failed, chosen, refused, shown]), () => [
    failed ? el("p", {}, words.failed) : told.length === 0 ? el("p", {}, words.none) : null,
    el("ol", { class: "told-lines" }, ...told.slice(0, shown).map(line)),
    told.length > shown ? button(words.older, () => { shown += 2 * few; again(); }) : null,
  ]);
}

function line(l: Line): HTMLElement {
  const never = l.struckBy.length > 0;
  const state = never ? words.neverHappened : l.changes.length > 0 ? words.corrected : "";
  const open = chosen === l.id;
  const toggle = button(open ? words.shut : words.change, () => { [chosen, refused] = [open ? "" : l.id, { id: "", says: "" }]; again(); }, { "aria-expanded": String(open) });
  return el("li", {},
    el("div", { class: "line" }, el("span", { class: "at" }, words.at(l.at)), " ",
      el("span", { class: "what" }, never ? el("s", {}, words.says(l.event)) : words.says(l.event), " ", state === "" ? null : el("b", {}, state)), toggle),
    open ? el("div", { class: "choice" }, ...(never ? [revive(l)] : ways(l))) : null,
    refused.id === l.id ? el("p", { class: "refused", role: "alert" }, refused.says) : null);
}

/** ways are the ways in which a line can be put right. */
function ways(l: Line): Node[] {
  const out: Node[] = [teller(words.never, () => say(l, { kind: "struck", of: l.id }))];
  if (l.event.kind === "pulled" || l.event.kind === "loaded") {
    out.push(el("span", {}, words.earlier), ...steps.map((s) => teller(about(s), () => say(l, { kind: "amended", of: l.id, earlier_s: s }))));
  }
  if (l.event.kind === "outcome") {
    out.push(el("span", {}, words.was.outcome),
      ...outcomes.filter((o) => o !== l.event.outcome).map((outcome) => teller(outcomeWords[outcome], () => say(l, { kind: "amended", of: l.id, outcome }))));
  }
  if (l.event.kind === "fitted") {
    const mark: Mark = l.event.mark === "port" ? "starboard" : "port";
    out.push(el("span", {}, words.was.fitted), teller(side(mark, device().sides[mark]), () => say(l, { kind: "amended", of: l.id, mark }), { class: mark }));
  }
  if (l.changes.length > 0) out.push(teller(words.asTold, () => void undo(l, l.changes, words.asTold)));
  return out;
}

function revive(l: Line): Node {
  return teller(words.didAfterAll, () => void undo(l, l.struckBy, words.didAfterAll));
}

/** undo takes corrections back. */
async function undo(l: Line, corrections: string[], says: string): Promise<void> {
  done(l, await tellAll(corrections.map((of) => ({ kind: "struck", of })), `${says}.`));
}

async function correct(l: Line, event: Told): Promise<void> {
  done(l, await tell(event));
}

function say(l: Line, event: Told): void {
  void correct(l, event);
}

/** done shuts the line that was put right, or says why it could not be. */
function done(l: Line, problem: string): void {
  refused = { id: problem === "" ? "" : l.id, says: problem };
  if (problem === "") chosen = "";
  again();
}
