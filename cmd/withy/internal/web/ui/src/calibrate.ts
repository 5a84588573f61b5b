// The calibration of the probes: where their tips are put, what they read until they
// rest, and what came of it.

import { before, calibration as words } from "./before-words";
import { el, group, keyed, table } from "./dom";
import type { Step } from "./fold";
import { Fetched } from "./fetched";
import { teller } from "./hold";
import { measuredIn } from "./measure";
import { answer } from "./said";
import { newID, sendUntilTaken, withdraw } from "./tell";

/** Place is where the tips can be. */
export type Place = "pot" | "box" | "ice" | "steam";

/** Calibration is how one stands, as the program tells it. */
export interface Calibration {
  state: "off" | "watching" | "keeping" | "kept" | "doubted" | "late" | "stopped" | "failed";
  place?: Place;
  out: boolean; // what the tips read is not taken for the box
  since_s: number;
  says: string[];
  probes: CalibratedProbe[];
  places: { place: Place; says: string[] }[];
}

/** CalibratedProbe is one probe of it. */
export interface CalibratedProbe {
  name: string;
  says: string; // how well it is known
  temp_c?: number;
  rests: boolean;
  add_k?: number;
  follows_s?: number; // the step into steam has shown it
}

const path = "/api/calibration";
const known = new Fetched<Calibration>(() => path, async (r) => (await r.json()) as Calibration);
const every = 2000; // ms between two looks at one that goes on

const body = el("div");
const node = el("details", { class: "part calibration" }, el("summary", { id: "calibrate" }, words.title), body);
let newest: Step = "open"; // how the item stands in which it is
let held: Step | undefined; // how that stood when it was opened
let lookedAt = -every;

node.addEventListener("toggle", () => {
  held = node.open ? newest : undefined;
  if (node.open) look();
  show();
});

/** heldAt is how the item is to be placed while it is open: one that is read must not move. */
export function heldAt(): Step | undefined {
  return held;
}

/** calibration is the part of the page in which the probes are calibrated, with how their item stands. */
export function calibration(stands: Step): HTMLElement {
  newest = stands;
  return node;
}

/** goesOn reports whether there is something to be waited for. */
export function goesOn(c: Calibration): boolean {
  return c.state === "watching" || c.state === "keeping" || c.out;
}

/** calibrationFollows keeps it up to date while it is open: it looks again and again while one goes on. */
export function calibrationFollows(): void {
  if (!node.open) return;
  const c = known.value;
  if (c && goesOn(c) && performance.now() - lookedAt >= every) look();
  show();
}

function look(): void {
  lookedAt = performance.now();
  known.changed();
}

function show(): void {
  if (!node.open) return;
  const c = known.get();
  if (c === null) {
    keyed(body, String(known.failed), () => [el("p", {}, known.failed ? before.failed : before.asks)]);
    return;
  }
  keyed(body, JSON.stringify([c.state, c.out, c.places, measuredIn()]), () => parts(c));
  body.querySelectorAll(".says").forEach((says) => keyed(says, JSON.stringify(c.says), () => c.says.map((s) => el("p", {}, s))));
  body.querySelectorAll(".reads").forEach((reads) => keyed(reads, JSON.stringify([c.probes, c.since_s, measuredIn()]), () => [readings(c)]));
}

/** parts is what there is to read and to press, by how it stands. */
function parts(c: Calibration): Node[] {
  const says = el("div", { class: `says is-${c.state}`, role: "status" });
  const reads = el("div", { class: "reads" });
  if (c.state === "watching" || c.state === "keeping") {
    return [says, reads, el("div", { class: "choice" }, teller(words.stop, () => void end(words.stopped), { id: "calibrate-end", disabled: c.state === "keeping" }))];
  }
  const back = c.out ? [el("div", { class: "choice" }, teller(words.back, () => void end(words.isBack), { id: "calibrate-end", class: "main" }))] : [];
  const told = c.state === "off" ? [] : [says, ...(c.state === "kept" || c.state === "doubted" ? [reads] : []), ...back];
  return [...told, el("p", {}, c.state === "off" ? words.intro : words.again), ages(c), ...c.places.map((p) => begins(p.place, p.says))];
}

/** ages says how well each probe is known. */
function ages(c: Calibration): HTMLElement {
  return el("ul", { class: "note" }, ...c.probes.map((p) => el("li", {}, `${p.name}: ${p.says}`)));
}

/** begins is one place for the tips: how, what to beware of, and the button. */
function begins(place: Place, says: string[]): HTMLElement {
  return group(words.places[place], ...says.map((s) => el("p", {}, s)),
    el("div", { class: "choice" }, teller(words.begin[place], () => void begin(place), { id: `calibrate-${place}` })));
}

/** readings is the table of what the tips read, and of what is added to each once that is known. */
function readings(c: Calibration): HTMLElement {
  return table(words.table(c), words.columns(c), c.probes.map((p) => words.row(c, p)));
}

async function begin(place: Place): Promise<void> {
  told(await sendUntilTaken(path, { id: newID(), place }), words.begun);
}

async function end(says: string): Promise<void> {
  told(await withdraw(path), says);
}

function told({ problem }: { problem: string }, says: string): void {
  answer(problem === "" ? says : problem, problem !== "");
  look();
  show();
}
