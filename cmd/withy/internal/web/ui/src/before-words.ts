// What the page says of all that comes before the run, in the words of the shed.

import { screen } from "./device-words";
import type { CalibratedProbe, Calibration, Place } from "./calibrate";
import { degrees, length, litres, measuredIn, offset } from "./measure";
import type { Step } from "./fold";
import type { Plan, PlanCut, PlanRib } from "./plan";
import type { Difficulty, Dry, Outcome, RigItem, Sound } from "./state";
import { about, clock } from "./words";

const many = (n: number, one: string, more = `${one}s`): string => `${n} ${n === 1 ? one : more}`;

export const before = {
  title: "Before the run",
  intro: "From the bench to the first rib, one after the other or as you like. Nothing waits for it.",
  later: "rig, box, ribs, test bends, plan, dry run",
  failed: "That can’t be asked for just now. It is tried again.",
  asks: "Asking the box…",
  undo: "Forget what was typed",
  file: "Take it from a file (CSV)",
  tooLong: "That file is too long: a table has at most 64 KB.",
  refused: "That was not taken. What is wrong stands beside it.",
};

export const standings: Record<Step, string> = { open: "to do", good: "good", wrong: "wrong" };

export const rig = {
  title: "The rig",
  gist: (items: RigItem[]) => [`${items.filter((i) => i.state === "good").length} of ${items.length} good`, wrongOf(items)].filter((t) => t !== "").join(", "),
  none: "Nothing is known of the rig yet.",
  told: (title: string, on: boolean) => `Told: ${title}, ${on ? "good" : "not good any more"}.`,
  takeBack: "Not so any more",
  takeBackOf: (title: string) => `${title}: not so any more`,
  which: "Which sound",
  sounds: { "pull": "pull", "ready soon": "ready soon", "kettle": "kettle", "danger": "danger" } satisfies Record<Exclude<Sound, "" | "look">, string>,
  trySound: "Sound it",
  play: "Sound it",
  plays: "Sounded. Was it heard at the boat?",
  heardThere: "Heard it at the boat, with the burner roaring? Then say so.",
};

/** stepped reports whether a step into steam is over and kept. */
const stepped = (c: Calibration): boolean => c.state === "kept" && c.place === "steam";

export const calibration = {
  title: "Calibrate the probes",
  intro: "What each reads where the truth is known is kept, dated, and added to it from then on. Choose where the tips are:",
  again: "To do it again, or elsewhere, choose where the tips are:",
  places: { pot: "In a boiling pot: the best", box: "At rib height in the box", ice: "In melting ice, before the pot", steam: "Into steam at one stroke: how slowly they follow" } satisfies Record<Place, string>,
  begin: { pot: "They are in the pot: begin", box: "They are tied in the box: begin", ice: "They are in the ice: begin", steam: "They are cool: begin" } satisfies Record<Place, string>,
  begun: "Begun. The tips are watched.",
  stop: "Stop, keep nothing",
  stopped: "Stopped. Nothing was kept.",
  back: "They hang in the box again",
  isBack: "Told: they hang in the box again.",
  table: (c: Calibration) => (c.state === "watching" ? `After ${clock(c.since_s)}` : "What was found"),
  columns: (c: Calibration) => (stepped(c) ? ["probe", "goes 63 % of the way in"] : c.state === "kept" ? ["probe", "read", "added from now on"] : c.state === "doubted" ? ["probe", "read"] : ["probe", "reads", "tip"]),
  row: (c: Calibration, p: CalibratedProbe) => {
    const reads = p.temp_c === undefined ? "nothing" : degrees(p.temp_c, 2);
    if (stepped(c)) return [p.name, p.follows_s === undefined ? "not found" : `${p.follows_s.toFixed(1)} s`];
    if (c.state === "kept") return [p.name, reads, p.add_k === undefined ? "" : offset(p.add_k)];
    return c.state === "doubted" ? [p.name, reads] : [p.name, reads, p.rests ? "at rest" : "not at rest yet"];
  },
};

function wrongOf(items: RigItem[]): string {
  const n = items.filter((i) => i.state === "wrong").length;
  return n === 0 ? "" : `${n} wrong`;
}

const groups: Record<string, string> = {
  units: "Units", place: "The place", box: "The box", boiler: "The boiler", kettle: "The kettle", wood: "The stick",
  window: "How much heat it wants", run: "The run", boat: "The boat",
};

/** wordNames are words of the settings that don't read as they are written. */
const wordNames: Record<string, string> = { "": "not told", "metric": "metric: °C, mm, litres", "us": "US: °F, inches, quarts" };

export const settings = {
  title: "The box and the stick",
  gist: (told: number, typed: number) => (typed > 0 ? `${typed} typed, not set yet` : told === 0 ? "all as it came" : `${told} told for this box`),
  intro: "What is set here goes on at once, and is kept for the next time. Only what you change is sent.",
  groups,
  from: { page: "set here", file: "from the file", default: "as it came" },
  word: (w: string) => wordNames[w] ?? w.replaceAll("-", " "),
  between: (lo: string, hi: string) => `${lo} to ${hi}`,
  orNone: (range: string) => `${range}, or 0`,
  notANumber(text: string, unit: string): string {
    const wanted = unit === "" ? "a number" : `a number in ${unit}`;
    return text === "" ? `Wanted is ${wanted}.` : `“${text}” is not ${wanted}.`;
  },
  notATime: "Write a time with its unit, such as 90s or 5m.",
  outside: (range: string) => `Allowed: ${range}.`,
  set: (n: number) => (n === 0 ? "Set" : `Set ${many(n, "change")}`),
  done: "Set, and kept.",
  back: "Take back",
  tableBack: "Back to the file’s",
  tableIsBack: "What the configuration file says is in use again.",
  backOf: (says: string) => `${says}: take back what was set here`,
};

const bendWords: Record<Difficulty | "", string> = { "": "as the boat has it", "easy": "easy", "middling": "middling", "hard": "hard" };

export const ribTable = {
  title: "The ribs",
  noTable: "no table: the box takes any rib",
  gist: (typed: string) => (typed === "" ? "" : `${typed}, typed and not taken yet`),
  intro: "One line a rib, as you will cut them. No table? Skip this: the box takes any rib, and only the advice that needs lengths stays away.",
  lengthsIn: () => (measuredIn() === "us" ? "Lengths in inches, such as 37 5/16 or 3' 1 5/16\"." : "Lengths in millimetres, such as 943, or with their unit: 94.3 cm."),
  sum: (n: number, m: number) => `${many(n, "rib")}, ${measuredIn() === "us" ? `${(m / 0.3048).toFixed(0)} ft` : `${m.toFixed(1)} m`} in all`,
  heads: { rib: "Rib", length: "Length", bend: "Bends", station: "From the bow", thickness: "Thickness", width: "Width", stick: "Stick", boat: "Boat" },
  of: (what: string, rib: string) => `${what} of rib ${rib || "?"}`,
  bends: bendWords,
  bendOf: (rib: string, bend: Difficulty | "") => `Rib ${rib || "?"} bends: ${bendWords[bend]}. Tap for the next.`,
  meant: "That’s meant: this rib is off the curve of the others on purpose",
  more: "more",
  moreOf: (rib: string) => `More of rib ${rib || "?"}`,
  remove: "Take this rib out",
  add: "Add a rib",
  anew: "Start an empty table",
  keypad: "Keypad",
  readBack: "Read it back",
  noVoice: "To hear every rib, tap “Sound on” first, on a device that has a voice.",
  readLine: (rib: string, text: string) => `${rib}: ${text}.`,
  take: "Take this table",
  taken: (n: number) => `Taken: ${many(n, "rib")}.`,
  noLabel: "Each rib wants its number.",
  twice: (rib: string) => `${rib} is there twice.`,
  noLength: "Its length is missing.",
  none: "There is no rib in it yet.",
  place: (column: string, line: number) => `Line ${line}${column}`,
  outside: (typed: string, lo: string, hi: string) => `${typed} is outside ${lo} to ${hi}.`,
  column: (name: string) => columns[name] ?? name,
};

const columns: Record<string, string> = {
  rib: "rib", length_mm: "length", station_mm: "from the bow", thickness_mm: "thickness", width_mm: "width", stick: "stick", boat: "boat",
  bend: "bend", meant: "meant", exposure_min: "heat", outcome: "bent", where: "where",
};

export const keypad = {
  title: "Keypad",
  back: "Delete",
  space: "Space",
  copy: "As above",
  next: "Next",
};

const bent: Record<Outcome, string> = { supple: "supple", stiff: "stiff", cracked: "cracked" };

export const bends = {
  title: "Test bends",
  gist: (n: number) => (n === 0 ? "none yet" : many(n, "bend")),
  tell: "bends tell of the stick",
  intro: () => `Bends of this stick from before: the heat each had, in minutes at ${degrees(100)}, and how it went. They are best made at the tightest bend of the boat.`,
  pieces: "Load test pieces now",
  history: "What worked in each stick before",
  piecesSay: "Three offcuts together, pulled one after the other, then two more where the page suggests. The day before is best: keep tomorrow’s blanks wet, wrapped and in the shade.",
  heads: { heat: "Heat", outcome: "Bent", stick: "Stick", thickness: "Thickness", bend: "Bend" },
  of: (what: string, n: number) => `${what} of bend ${n}`,
  bent,
  add: "Add a bend",
  remove: (n: number) => `Take bend ${n} out`,
  removeShort: "out",
  take: "Take these bends",
  taken: (n: number) => (n === 0 ? "Taken: no test bend." : `Taken: ${many(n, "test bend")}.`),
  noHeat: (n: number) => `Bend ${n}: its heat is a number of minutes, such as 4.5.`,
};

export const plan = {
  title: "The plan",
  unread: "time, water, the curve, what to cut",
  asks: "The plan is being reckoned…",
  gist: (p: Plan) => `${about(p.session_min * 60)}, ${litres(p.water_l)}${p.unfair.length > 0 ? `, ${p.unfair.length} off the curve` : ""}`,
  failedGist: "can’t be made yet",
  print: "Print the sheet",
  spares: "Spares",
  sparesSay: (pct: number) => `${pct} for 100 ribs`,
  facts: (p: Plan): [string, string][] => [
    ["Ribs", String(p.ribs)],
    ["Rhythm", p.slots > 1 ? `one in, one out with ${p.slots} slots, one every ${clock(p.interval_s)}` : `one at a time, one every ${clock(p.interval_s)}`],
    ["In the box", `each lies ${clock(p.soak_s)}${p.soak_from === "guess" ? ", a guess: make test bends" : ""}`],
    ["Time", `${about(p.session_min * 60)} from heat on, ${about(p.run_min * 60)} of it with ribs`],
    ["Water", `${litres(p.water_l)} boil off`],
    ["Heat", p.heat.spare_w < 0 ? `the boiler is ${Math.round(-p.heat.spare_w)} W short` : `${Math.round(p.heat.spare_w)} W of the boiler’s ${Math.round(p.heat.boiler_w)} W to spare`],
  ],
  kettle: "The kettle",
  noKettle: "No kettle is needed if the boiler is full when the heat goes on.",
  kettleOn: (c: { at_min: number; pour_min: number; litres: number }) => `On at ${clockMin(c.at_min)}, poured at ${clockMin(c.pour_min)}: ${litres(c.litres)}.`,
  breaks: (b: { after_ribs: number; heat_off_min: number; fill_min: number; litres: number; again_min: number }) =>
    `A break after ${many(b.after_ribs, "rib")}: heat off at ${clockMin(b.heat_off_min)}, filled cold at ${clockMin(b.fill_min)} with ${litres(b.litres)}, hot again at ${clockMin(b.again_min)}.`,
  since: "Times in hours and minutes since the first rib went in.",
  curve: "The curve of the ribs",
  curveOf: (boat: string) => (boat === "" ? plan.curve : `${plan.curve}: ${boat}`),
  curveLabel: (ribs: PlanRib[]) => `${many(ribs.length, "rib")} from the bow, each as tall as it is long. ${ribs.some((r) => r.unfair) ? `Off the curve: ${ribs.filter((r) => r.unfair).map((r) => r.rib).join(", ")}.` : "All lie on the curve."}`,
  bow: "bow",
  fair: "Every rib lies on the curve of the others.",
  odd: (r: PlanRib) => `Rib ${r.rib}: ${length(r.length_mm / 1000)} in the table, ${length((r.fair_mm ?? r.length_mm) / 1000)} by its neighbours. Measure again before you cut.`,
  suggests: (r: PlanRib) => length((r.fair_mm ?? r.length_mm) / 1000),
  meant: "That’s meant",
  meantOf: (rib: string) => `Rib ${rib}: that’s meant`,
  change: (r: PlanRib) => `Take ${plan.suggests(r)}`,
  changeOf: (r: PlanRib) => `Rib ${r.rib}: take ${plan.suggests(r)}`,
  oddThickness: (rib: string, mm: number, suggested: number) => `Rib ${rib} is ${length(mm / 1000, 1)} thick, the others ${length(suggested / 1000, 1)}.`,
  changed: (rib: string) => `Rib ${rib} is put right in the table.`,
  cut: "What to cut",
  cutColumns: ["length", "ribs", "spares", "section", "stick"],
  cutRow: (c: PlanCut) => [length(c.length_mm / 1000), c.ribs.join(", ") || "spare", String(c.spares || ""), section(c), c.stick ?? ""],
  order: "The order",
  orderColumns: ["rib", "slot", "in", "out"],
  time: clockMin,
};

function section(c: PlanCut): string {
  return [c.thickness_mm, c.width_mm].filter((mm): mm is number => mm !== undefined).map((mm) => length(mm / 1000, 1)).join(" × ");
}

/** clockMin says minutes as hours and minutes. */
function clockMin(min: number): string {
  const m = Math.round(min);
  return `${Math.floor(m / 60)}:${String(m % 60).padStart(2, "0")}`;
}

export const dry = {
  title: "Dry run",
  gist: (d: Dry | undefined) => (d === undefined ? "sticks, no steam" : d.on ? `on, ${many(d.rounds, "round")}` : `${many(d.rounds, "round")}${d.pace_s === undefined ? "" : `, ${about(d.pace_s)} each`}`),
  intro: "Sticks, no steam, the real sounder. It calls; you pull, walk, fit and walk back. Four rounds teach it your pace, prove the sounder at the boat, and teach a helper.",
  start: "Begin the dry run",
  back: "Back at the box",
  end: "End the dry run",
  again: "What it has learned stays: begin again, and the new rounds are added.",
  forget: "Forget this pace",
  hot: "The box is hot or has ribs in it: a dry run is for before.",
  waits: "until the next round",
  runs: "this round",
  key: "The pedal that does what was called tells it too.",
  rounds: (n: number) => (n === 0 ? "No round is done yet." : `${many(n, "round")} done.`),
  last: (s: number) => `The last took ${clock(s)}.`,
  pace: (s: number) => `Your pace: ${clock(s)} from one rib to the next. The plan goes by it.`,
  paceLater: "Your pace is known after three rounds.",
  list: "Rounds",
  round: (n: number, s: number) => `Round ${n}: ${clock(s)}`,
};

export const lies = {
  title: "How she lies",
  gist: (keel: string, bow: string) => `keel ${keel}, bow ${bow}`,
  intro: "For this screen, from where you stand at it. Red tape on the port gunwale, green on starboard, is the sure way.",
  bows: screen.bows,
};
