// What the page says of all that can wait for a quiet minute, in the words of the shed.

import type { Step } from "./fold";
import type { CrewEvent, Difficulty, Heat, Interval, Ledger, Outcome, Output, Pace, Rib, Rhythm, Status, Stick, Tried, Water } from "./state";
import { bowEdge, sideEdge, type Edge, type Lies } from "./lie";
import { degrees, length, litres } from "./measure";
import { about, clock, event, hours } from "./words";

const watts = (w: number): string => `${Math.round(w / 10) * 10} W`;
const heat = (m: number): string => m.toFixed(1);
const first = (text: string): string => text.slice(0, 1).toUpperCase() + text.slice(1);

export const wait = {
  title: "In the wait",
  asked: (questions: number) => (questions === 0 ? "In the wait" : `In the wait: ${questions === 1 ? "one question" : `${questions} questions`}`),
  nothing: "Nothing to ask and nothing to advise.",
  away: "Not now: the box may be under pressure. Keep away from the door.",
};

export const ask = {
  yes: "Yes",
  no: "No, only looked in",
  allGood: (ribs: string[]) => (ribs.length === 1 ? `Rib ${ribs[0]} good?` : `${ribList(ribs)} all good?`),
  all: (n: number) => (n === 1 ? "Good" : "All good"),
  bad: (rib: string) => `not ${rib}`,
  how: (rib: string) => `How did rib ${rib} bend?`,
  toldAll: (ribs: string[]) => `Told: ${ribs.length === 1 ? "rib" : "ribs"} ${ribList(ribs)} supple.`,
};

/** ribList names ribs, those that follow one another as a span: 8 to 12, 15 and T1. */
export function ribList(ribs: string[]): string {
  const isNumber = (r: string): boolean => /^\d+$/.test(r);
  const sorted = [...ribs].sort((a, b) => Number(isNumber(b)) - Number(isNumber(a)) || a.localeCompare(b, "en", { numeric: true }));
  const parts: string[] = [];
  for (let i = 0; i < sorted.length;) {
    let j = i;
    while (isNumber(sorted[i] ?? "") && Number(sorted[j + 1]) === Number(sorted[j]) + 1) j++;
    const from = sorted.slice(i, j + 1);
    parts.push(...(from.length > 2 ? [`${from[0]} to ${from[from.length - 1]}`] : from));
    i = j + 1;
  }
  return parts.length < 2 ? parts.join("") : `${parts.slice(0, -1).join(", ")} and ${parts[parts.length - 1]}`;
}

const difficulties: Record<Difficulty, string> = { easy: "easy bends", middling: "middling bends", hard: "hard bends" };

export const stick = {
  title: "The stick",
  gist: (sticks: Stick[]) => (sticks.length === 0 ? "set by hand" : `aim for ${sticks.map((k) => `${heat(k.target_min)} ${sticks.length > 1 ? k.bend : ""}`.trim()).join(", ")}`),
  unit: () => `All heat in minutes at ${degrees(100, 0)}. On the scale each step is twice the one before.`,
  byHand: (w: Status["window"]) => `Set by hand: soft from ${heat(w.soft_min)}, aim for ${heat(w.target_min)}, too much from ${heat(w.over_min)} min at ${degrees(100, 0)}.`,
  name: (k: Stick) => `${k.stick ? `${k.stick}, ` : ""}${length(k.thickness_m, 1)}, ${difficulties[k.bend]}`,
  guess: "A guess: no bend has shown it yet.",
  soft: (i: Interval) => `Soft from ${span(i)}.`,
  over: (i: Interval) => `Too much from ${span(i)}.`,
  aim: (k: Stick) => `Aim for ${heat(k.target_min)} at the cooler end: in the box as it is, both ends then come out supple ${Math.round(100 * k.p_supple_both_ends)} times in 100.`,
  bends: (n: number) => (n === 1 ? "One bend tells of it." : `${n} bends tell of it.`),
  notHot: "The box is not hot yet: what to aim for will move.",
  softMark: "soft",
  overMark: "too much",
  aimMark: (k: Stick) => `aim ${heat(k.target_min)}`,
  label: (k: Stick) => `Scale of heat for ${stick.name(k)}.`,
  legend: "Ribs of today, from the cooler to the hotter end: ● supple, □ stiff, ✕ cracked.",
  table: "Ribs of this stick and how they bent",
  columns: ["rib", "cooler end", "hotter end", "bent"],
  row: (r: Rib, [cool, hot]: [number, number]) => [r.rib, heat(cool), heat(hot), r.outcome ?? ""],
};

function span(i: Interval): string {
  return `${heat(i.median)} (somewhere from ${heat(i.lo)} to ${heat(i.hi)})`;
}

const where: Record<Edge, string> = { top: "away from you", bottom: "towards you", left: "to your left", right: "to your right" };

export const boat = {
  title: "The boat",
  gist: (s: Status) => (s.hulls ?? []).map((h) => `${h.fitted} of ${h.stations} in`).join(", "),
  bow: "bow",
  port: "port",
  starboard: "starboard",
  label: (name: string, l: Lies) => `${name || "The boat"} from above as she lies: keel ${l.keel}, bow ${where[bowEdge(l)]}, port ${where[sideEdge(l, "port")]}.`,
  legend: (l: Lies) => `From above, as she lies, keel ${l.keel}. A square is where the mark went; a hollow one is where it is called to go, or went by the call alone. Dashed: still to come. In two pieces: broken, to be replaced. How she lies before you is set under “This screen”.`,
  table: "Ribs from the bow",
  columns: ["rib", "from the bow", "how it is", "mark"],
  place: (r: Rib) => length(r.station_m),
  states: { waiting: "still to come", in: "in the box", pulled: "out" } as const,
  mark: (r: Rib) => (r.mark === "" ? "" : r.place === "pulled" ? (r.fitted ? r.mark : `${r.mark}, by the call`) : `to go to ${r.mark}`),
  replaces: (r: Rib) => `takes the place of ${r.replaces}`,
};

export const steam = {
  title: "Pace and heat",
  gist: (s: Status) => [pace(s.pace), spare(s.heat)].filter((t) => t !== "").join(", "),
  notHot: "The box is not hot yet, so it has no pace.",
  byDryRun: (s: number) => `The box is not hot yet. By the dry run you need ${clock(s)} from one rib to the next.`,
  rhythm: (r: Rhythm) => `${way(r)} every ${clock(r.interval_s)}${r.soak_s === undefined ? "" : `, so that each lies ${clock(r.soak_s)}`}.`,
  crew: (s: number) => `You pull one every ${clock(s)}.`,
  shortest: (h: Heat) => (h.shortest_interval_s > 0 ? `The boiler holds one rib every ${clock(h.shortest_interval_s)}, no faster.` : "The boiler holds no rib at all."),
  guess: "The walls are a guess by the size of the box until it has warmed up.",
  label: "Where the boiler’s heat goes",
  boiler: "boiler",
  parts: { walls: "walls", vent: "vent and drain", ribs: "ribs", spare: "to spare", short: "short" },
  watts,
  columns: ["what", "heat"],
};

function pace(p: Pace): string {
  const by = about(p.by_s ?? 0);
  return { "": "", steady: "pace is steady", "too-fast": `${by} too early`, "too-slow": `${by} too long in the box` }[p.verdict];
}

function spare(h: Heat): string {
  return h.spare_w < 0 ? `${watts(-h.spare_w)} short` : `${watts(h.spare_w)} to spare`;
}

function way(r: Rhythm): string {
  if (r.way === "batches") return `${r.slots} together`;
  return r.slots <= 1 ? "One at a time, one" : `One in, one out with ${r.slots} slots, one`;
}

export const pot = {
  title: "Water",
  gist: (w: Water) => (w.kettle_in_s === undefined ? basis[w.basis] : `kettle call in ${about(w.kettle_in_s)}`),
  lines: (w: Water) => [
    `${first(basis[w.basis])}.`,
    `Boils off ${litres(w.rate_l_per_h)} an hour; the kettle takes ${about(w.kettle_lead_s)} till it is poured.`,
    w.kettle_in_s === undefined ? "" : `Kettle call in ${about(w.kettle_in_s)}, between two pulls.`,
    w.reserve_s === undefined ? "" : `When the switch says low, there is water for ${about(w.reserve_s)} more at the least.`,
    w.break ? pause(w.break) : "",
    w.refill ? `${litres(w.refill.litres)} poured in ${about(w.refill.ago_s)} ago brought the pot to ${degrees(w.refill.mixed_c, 0)}; it boils again ${about(w.refill.boils_again_s)} after the pour.` : "",
  ].filter((line) => line !== ""),
};

const basis: Record<Water["basis"], string> = {
  "fill-unknown": "how much there is isn’t known",
  "switch": "the switch says there is enough, no more is known",
  "fill": "reckoned from what was told or the switch showed, and what boils off",
};

function pause(b: NonNullable<Water["break"]>): string {
  const ribs = b.loads === 1 ? "one more rib" : `${b.loads} more ribs`;
  const out = b.in_time ? `last one out in ${about(b.last_out_s)}` : "what is in the box comes out early";
  return `Break for water: load ${b.loads === 0 ? "no more" : ribs}, ${out}, heat off in ${about(b.heat_off_s)} at the latest.`;
}

function count(ribs: string[] | null, what: string): string {
  return (ribs ?? []).length === 0 ? "" : `${(ribs ?? []).length} ${what}`;
}

export const broke = {
  title: "Breakage and keel",
  gist: (l: Ledger) => [
    count(l.glue, "to glue"), count(l.replace, "to replace"), l.spares_left === undefined ? "" : `spares left: ${l.spares_left}`, l.make_more > 0 ? `cut ${l.make_more} more` : "",
  ].filter((t) => t !== "").join(", ") || "nothing broken",
  lines: (l: Ledger) => [
    (l.glue ?? []).length > 0 ? `To pin, glue and clamp: ${ribList(l.glue ?? [])}.` : "",
    (l.replace ?? []).length > 0 ? `To be replaced, in place until then: ${ribList(l.replace ?? [])}.` : "",
    ...(l.replaced ?? []).map((r) => `Rib ${r.rib} was replaced by ${r.by}.`),
    l.spares_left === undefined ? "" : `Spares left: ${l.spares_left}.`,
    l.expect_broken < 0.05 ? "" : `At this stick’s rate about ${l.expect_broken.toFixed(1)} more will break.`,
    l.make_more > 0 ? `Cut ${l.make_more} more.` : "",
    l.keel_lift_m === undefined ? "" : `The keel lifts ${length(l.keel_lift_m)}: ${l.keel_too_high ? "too high" : "that settles"}.`,
  ].filter((line) => line !== ""),
  split: "How far did it split?",
  splitRib: "rib that split",
  across: "of the width",
  through: "of the thickness",
  pct: (n: number) => `${n} %`,
  splitRule: "Up to a quarter of both can be pinned, glued and clamped.",
  tellSplit: "Split",
  replace: "Which took its place?",
  replaced: "rib that broke",
  by: "rib that took its place",
  which: "by which?",
  tellReplaced: "Took its place",
  keel: "Keel off its blocks",
  lift: (m: number) => length(m),
  tellKeel: "Measured",
  none: "No rib has cracked.",
  noOther: "To replace one: load a spare, pull it, then tell it here.",
};

export const piece = {
  title: "A test piece or a spare",
  gist: "pieces that the table does not have",
  kinds: { test: "test piece", spare: "spare" },
  called: "written on it",
  into: (slot: string) => `into ${slot}`,
  full: "Every slot is full.",
  rule: "A test piece is bent to learn and goes into no boat. Load them one after the other: each is called in its turn. A spare that goes in for a broken rib is told under breakage.",
};

export const right = {
  title: "Put right what was told",
  gist: "line by line, the last first",
  none: "Nothing has been told yet.",
  failed: "What was told can’t be read just now.",
  change: "Put right",
  shut: "Leave it",
  never: "Didn’t happen",
  didAfterAll: "It did happen",
  asTold: "As first told",
  earlier: "It was earlier by",
  was: { outcome: "It was", fitted: "Its mark went to" },
  older: "Show earlier ones",
  neverHappened: "didn’t happen",
  corrected: "put right",
  at: (s: number) => hours(s, true),
  says: (e: CrewEvent) => first(event(e)),
};

export const outcomeWords: Record<Outcome, string> = { supple: "supple", stiff: "stiff", cracked: "cracked" };

const outputKinds: Record<string, string> = {
  topic: "a push", webhook: "another program", alertmanager: "an alarm program", mqtt: "a message board", heartbeat: "a watcher elsewhere",
};

export const reach = {
  title: "Who is told",
  gist: (all: Output[]) => {
    const bad = all.filter((o) => o.fails || o.late).length;
    return bad === 0 ? (all.length === 1 ? "one way" : `${all.length} ways`) : bad === all.length ? "no way works now" : `${bad} of ${all.length} ways ${bad === 1 ? "does" : "do"} not work now`;
  },
  standings: { open: "not tried yet", good: "works", wrong: "does not work now" } satisfies Record<Step, string>,
  way: (o: Output) => {
    const last = o.good_s === undefined ? (o.fails ? "nothing has got through yet" : "") : `last got through ${ago(o.good_s)}`;
    const waits = o.waiting === 0 ? "" : o.waiting === 1 ? "one alarm is not told yet" : `${o.waiting} alarms are not told yet`;
    return `– ${[`${o.name}, ${outputKinds[o.kind] ?? o.kind}`, o.fails ?? "", last, waits].filter((t) => t !== "").join("; ")}.`;
  },
  send: "Send a message to the phones",
  sending: "Sending it…",
  sent: (tried: Tried[]) => {
    const took = tried.filter((t) => t.ok).map((t) => t.name);
    const not = tried.filter((t) => !t.ok).map((t) => `Not by ${t.name}: ${t.says ?? ""}.`);
    return [took.length > 0 ? `Sent by ${ribList(took)}. Did it arrive?` : "It was taken by nobody.", ...not].join(" ");
  },
};

/** ago says how long ago, so that it changes once a minute. */
function ago(s: number): string {
  return s < 60 ? "just now" : `${about(Math.floor(s / 60) * 60)} ago`;
}
