// All that the page says of its own, in the words of the shed.

import type { Gathered } from "./gathered";
import { degrees, difference, length, litres } from "./measure";
import type { Alarm, Call, Phase, Probe, Rib, Slot, Status, Told, Water } from "./state";

/** clock says seconds as 1:05. */
export function clock(s: number): string {
  const n = Math.round(Math.abs(s));
  return `${Math.floor(n / 60)}:${String(n % 60).padStart(2, "0")}`;
}

/** about says seconds the way one does when they need not be exact. */
export function about(s: number): string {
  if (s < 90) return `${Math.round(s / 5) * 5} s`;
  if (s < 90 * 60) return `${Math.round(s / 60)} min`;
  return `${(s / 3600).toFixed(1)} h`;
}

/** hours says elapsed seconds as 1:05 in hours and minutes, or with seconds where they matter. */
export function hours(s: number, exact: boolean): string {
  const h = Math.floor(s / 3600);
  const m = String(Math.floor((s % 3600) / 60)).padStart(2, "0");
  return exact ? `${h}:${m}:${String(Math.floor(s % 60)).padStart(2, "0")}` : `${h}:${m}`;
}

const many = (n: number, what: string): string => `${n} ${what}${n === 1 ? "" : "s"}`;

export const page = {
  rehearsal: "REHEARSAL",
  soundOff: "Sound on",
  soundOn: "Sound is on",
  far: "Far view",
  near: "Near view",
  shop: "All boxes",
  waiting: "Asking the box…",
  live: (s: number) => (s < 2 ? "live" : `${Math.round(s)} s old`),
  lost: (s: number | null, why: string) => `${why === "" ? "" : `${why} `}No word from the box${s === null ? "" : ` for ${about(Math.max(5, s))}`}. What you see is old: go by your own clock and mind the water.`,
  still: (s: number, why: string) => `${why || `The box has said nothing new for ${about(Math.max(5, s))}.`} Go by your own clock and mind the water.`,
  old: "not live",
  faster: (n: number) => `${page.rehearsal} ×${n}`,
};

/** phase says how far the box has come. */
export function phase(s: Status): string {
  return s.phase === "blind" && probesOut(s) ? "probes out to be calibrated" : phases[s.phase];
}

/** probesOut reports whether somebody calibrates the probes out of the box. */
const probesOut = (s: Status): boolean => (s.probes ?? []).some((p) => p.fault === "calibrating");

/** phases are the words for how far a box has come. */
export const phases: Record<Phase, string> = {
  cold: "cold",
  warming: "warming up",
  ready: "ready for the first rib",
  running: "steaming",
  cooling: "falling off",
  blind: "no probe answers",
};

/** digits is what the large figures say, and what they count. */
export function digits(c: Call, s: Status): { figure: string; label: string; late: boolean } {
  if (s.phase === "blind") return { figure: "?", label: "nothing to go by", late: false };
  if (c.do === "pull") return pullDigits(c);
  if (c.do === "load") {
    const due = (c.in_s ?? 0) < 1;
    return { figure: due ? "now" : clock(c.in_s ?? 0), label: due ? "load" : "until you load", late: false };
  }
  if (c.do === "dry") {
    const since = s.dry?.since_s ?? 0;
    return { figure: clock(since), label: since < 0 ? "until the next round" : "this round", late: false };
  }
  if (c.do === "wait") {
    if (s.heat_off) return { figure: "off", label: "the heat is off", late: false };
    const left = s.warm_up.not_before_s - s.elapsed_s;
    if (left >= 1) return { figure: clock(left), label: "warming, at least", late: false };
    return { figure: "…", label: boiledDry(s) ? "until there is water again" : "until both ends are level", late: false };
  }
  return { figure: c.do === "hold" ? "break" : "done", label: "", late: false };
}

/** pullDigits is what the large figures say of a rib to be pulled. */
export function pullDigits(c: Call): { figure: string; label: string; late: boolean } {
  if (c.in_s === undefined) return { figure: "?", label: "too cold to say when", late: false };
  if (c.in_s >= 1) return { figure: clock(c.in_s), label: "until you pull", late: false };
  if (c.too_far || (c.good_s !== undefined && c.good_s < 1)) return { figure: "now", label: "pull", late: true };
  if (c.good_s === undefined) return { figure: "now", label: "pull, it keeps", late: true };
  return { figure: clock(c.good_s), label: "pull, still good for", late: true };
}

/** boiledDry reports whether a box that was ready waits because its boiler is bare, by the best guess. */
function boiledDry(s: Status): boolean {
  return s.warm_up.ready_s !== undefined && s.water.dry_s !== undefined && s.water.dry_s <= 0;
}

/** warming says how far the box is on its way. */
export function warming(s: Status): string {
  if (boiledDry(s)) return "By the best guess the boiler is dry. Tell of the water once some is in it.";
  if (s.warm_up.first_steam_s === undefined) return "No steam at the ends yet.";
  return s.warm_up.level_s === undefined ? "Steam has come. The ends are not level yet." : "Both ends are level.";
}

export const call = {
  rib: (c: Call) => `Rib ${c.rib ?? "?"}`,
  load: (c: Call) => `Load ${c.rib ?? "?"}`,
  mark: (m: string) => `Mark to ${m}`,
  port: "P", // on the edges of the screen
  starboard: "S",
  towards: "Mark towards you",
  good: (s: number | undefined) => (s === undefined ? "then good for as long as you like" : s < 20 ? "then it won’t wait" : `then good for ${clock(s)} more`),
  then: (sentence: string) => `Then: ${sentence}`,
  hinge: "Stand to the hinge side. Steam first, then reach in.",
  away: "Keep away from the door.",
  awaySays: "The box may be under pressure. No rib is called until that is over.",
  blindly: (s: Status) => (probesOut(s) ? "The probes are out to be calibrated. The box is watched again once they hang in it." : "No probe answers, so nothing can be said about the ribs. Go by your own clock."),
  notSure: "not sure",
  work: (o: Status["out_of_box"]) => `Out of the box: bent by ${clock(o.bend_s)}, shaped by ${clock(o.shape_s)}, gives until ${clock(o.give_s)}, small changes until ${clock(o.adjust_s)}.`,
  noneYet: "Nothing to do yet.",
  back: "Back at the box",
  pulled: (c: Call) => `Pulled ${c.rib} from ${c.slot}`,
  loaded: (c: Call) => `Loaded ${c.rib} into ${c.slot}`,
};

export const ends = {
  steam: "steam end",
  door: "door end",
  hotter: "the hotter end",
  cooler: "the cooler end",
  noReading: "no reading",
  under(k: number): string {
    const apart = Math.abs(k);
    return apart < 0.05 ? "at boiling" : `${difference(apart, apart < 10 ? 1 : 0)} ${k > 0 ? "under" : "over"} boiling`;
  },
};

/** faults says what is wrong with a probe, by the kind of fault. */
const faults: Record<string, string> = {
  "absent": "doesn’t answer",
  "empty": "unplugged?",
  "checksum": "garbled",
  "power_on": "lost its supply",
  "low_power": "supply too weak",
  "out_of_range": "out of range",
  "shorted": "cable shorted?",
  "stuck": "stuck",
  "timeout": "too slow",
  "malformed": "garbled",
  "unreadable": "can’t be read",
  "pending": "no reading yet",
  "open_wire": "wire cut?",
  "to_ground": "touches ground?",
  "to_supply": "touches the supply?",
  "other_chip": "another in its place",
  "denied": "may not be read",
  "busy": "taken by another program",
  "calibrating": "out to be calibrated",
};

/** fault says why a probe has no temperature. */
export function fault(p: Probe): string {
  return p.fault ? (faults[p.fault] ?? ends.noReading) : ends.noReading;
}

export const heat = {
  words: ["not yet", "soft", "too much"] as const,
  empty: "empty",
  to: "to ready",
  spare: "spare",
  keeps: "ready, keeps",
  over: "too much",
  cold: "too cold",
  blind: "can’t say",
  inBox: "in the box",
  boxLabel: "The box from above: steam end left, door right.",
};

/** slotSentence says what a slot's drawing shows. */
export function slotSentence(slot: Slot, end: (i: 0 | 1) => string): string {
  if (!slot.rib) return `Slot ${slot.slot} is empty.`;
  const sure = slot.sure ? "" : " Not sure: part of its time was not seen.";
  let when = "The box is too cold to say when it is ready.";
  if (slot.ready_s !== undefined && slot.ready_s >= 1) when = `Ready in ${clock(slot.ready_s)}.`;
  else if (slot.ready_s !== undefined) when = slot.over_s === undefined ? "Ready." : `Ready, ${clock(slot.over_s)} to spare.`;
  return `Slot ${slot.slot}: rib ${slot.rib}, ${clock(slot.in_s ?? 0)} in the box, steam end ${end(0)}, door end ${end(1)}. ${when}${sure}`;
}

export const water = {
  litres: (w: Water) => (w.left_l === undefined ? "?" : litres(w.left_l)),
  dry(w: Water): string {
    if (w.dry_lo_s === undefined || w.dry_hi_s === undefined) return "tell how much went in";
    if (!w.boiling) return "not boiling";
    const [lo, hi] = [Math.floor(w.dry_lo_s / 60), Math.floor(w.dry_hi_s / 60)];
    return hi > lo ? `dry in ${lo} to ${hi} min` : `dry in ${lo} min`;
  },
  ribs(w: Water): string {
    const lasts = w.for_ribs === undefined ? "" : w.for_ribs === 0 ? "not for another rib" : `for ${many(w.for_ribs, "rib")}`;
    const left = w.ribs_to_go === 0 ? "" : lasts === "" ? `${many(w.ribs_to_go, "rib")} to go` : `${w.ribs_to_go} to go`;
    return [lasts, left].filter((t) => t !== "").join(", ");
  },
  low: "switch says low",
  kettle: (s: number) => `kettle on, ${clock(s)}`,
  label: (w: Water) => `Water: ${[water.litres(w), water.dry(w), water.ribs(w)].filter((t) => t !== "").join(", ")}.`,
  name: "water",
};

/** alarmWords are the words that are read from afar, by the alarm's id. */
const alarmWords: Record<string, string> = {
  "pressure": "PRESSURE",
  "boiler-dry": "DRY",
  "dry-now": "DRY",
  "steam-lost": "STEAM",
  "water-low": "WATER",
  "dry-soon": "KETTLE",
  "blind": "BLIND",
  "probe-failed": "PROBE",
  "switch-lost": "SWITCH",
  "both-cold": "COLD",
  "cold-end": "COLD END",
  "rib-overdone-soon": "RIB",
  "unreached": "NOBODY TOLD",
  "no-heartbeat": "WATCHER",
  "unwatched": "UNSEEN",
  "slow-warm-up": "SLOW",
  "not-kept": "LOG",
  "board-hot": "BOARD",
  "card-full": "CARD",
};

/** alarmWord is the one word for an alarm; once the run is over, nobody is sent for the kettle. */
export function alarmWord(a: Alarm, over: boolean): string {
  if (over && a.id === "dry-soon") return "WATER";
  return alarmWords[a.id] ?? (a.sound === "danger" ? "DANGER" : "LOOK");
}

const inOrder = new Intl.Collator("en", { numeric: true });

/** alarmTitle says what it is and on what: a rib, as the crew calls them, by its number first. */
export function alarmTitle(...[a, ...others]: Gathered): string {
  const on = [a, ...others].flatMap((one) => one.on ?? []).sort(inOrder.compare);
  if (on.length === 0) return a.title;
  const [, ribs] = /^Rib (.*)/.exec(a.title) ?? [];
  return ribs === undefined ? `${a.title}: ${on.join(", ")}` : `${on.length > 1 ? "Ribs" : "Rib"} ${on.join(", ")}: ${ribs}`;
}

export const alarm = {
  heard: "Heard",
  over: "Over",
  later: (minutes: number) => `Again in ${minutes} min`,
  states: { raised: "", heard: "heard", cleared: "– over,", latched: "– over, waits for you,", off: "off" },
  since: (state: Alarm["state"], s: number) => (state === "cleared" || state === "latched" ? `began ${clock(s)} ago` : `for ${clock(s)}`),
  again: (s: number) => `again in ${clock(s)}`,
  first: "came first",
  hushed: (n: number) => `${n} more, without a sound`,
  more: (words: string[]) => `${words.length} more: ${words.join(", ")}`,
};

export const crew = {
  title: "What did you do?",
  pulled: "Pulled",
  pulledRib: (s: Slot) => `${s.slot} · rib ${s.rib}`,
  loaded: "Loaded",
  into: (slot: string) => `into ${slot}`,
  tryEarly: (s: Slot) => `${crew.pulledRib(s)}, early, to try it`,
  again: (rib: string) => `rib ${rib} again`,
  backIn: (s: number) => `back in for ${clock(s)}`,
  ribs: "How did it bend?",
  how: (r: Rib) => `Rib ${r.rib}: how did it bend?`,
  bent: { supple: "supple", stiff: "stiff", cracked: "cracked" },
  wheres: { outside: "outside", inside: "inside", snapped: "snapped" },
  cracked: (rib: string) => `Where did rib ${rib} crack?`,
  unknown: "don’t know",
  went: "mark went to",
  nobody: "Nothing to tell of yet.",
  water: "Water",
  poured: "how much",
  refilled: "Refilled",
  filled: "Filled, cold",
  level: "Level read",
  kettle: "Kettle on",
  heatOn: "Heat is on",
  heatOff: "Heat is off",
  day: "The day",
  rest: "Break: load no more",
  back: "Back again",
  start: "Start though not level",
  stop: "Can I stop?",
  rib: (r: Rib) => `rib ${r.rib}`,
  away: "The box may be under pressure: keep away from the door.",
};

/** ailments says what is wrong with the board that watches. */
const ailments: Record<string, string> = {
  hot: "the board is hot",
  full: "the card is nearly full",
  unkept: "the log can’t be kept",
};

/** event says what an event is, such as: rib 7 loaded into C. */
export function event(e: Told): string {
  switch (e.kind) {
    case "pulled": return e.rib ? `rib ${e.rib} pulled from ${e.slot}` : `${e.slot} pulled`;
    case "loaded": return `${e.test ? "test piece" : "rib"} ${e.rib} loaded into ${e.slot}`;
    case "outcome": return `rib ${e.rib} ${e.outcome}${e.where ? `, ${e.where}` : ""}`;
    case "fitted": return `rib ${e.rib}, mark to ${e.mark}`;
    case "split": return `rib ${e.rib} split through ${e.across_pct ?? 0} % of its width and ${e.through_pct ?? 0} % of its thickness`;
    case "replaced": return `rib ${e.with} took the place of ${e.rib}`;
    case "keel": return `the keel lifts ${length((e.lift_mm ?? 0) / 1000)}`;
    case "peeped": return "the door was opened, nothing went in or out";
    case "refilled": return e.litres ? `${litres(e.litres)} poured in` : "a kettle poured in";
    case "filled": return `filled cold, ${litres(e.litres ?? 0)} in it`;
    case "level": return `level read, ${litres(e.litres ?? 0)} in it`;
    case "kettle": return "kettle on";
    case "heat": return e.on ? "heat on" : "heat off";
    case "break": return "break";
    case "back": return "back";
    case "start": return "starting though the box is not level";
    case "heard": return "alarm heard";
    case "reset": return "alarm over";
    case "remind": return `alarm off for ${e.minutes ?? 0} min`;
    case "checked": return `${e.item}: ${e.on ? "in order" : "not in order"}`;
    case "dry": return e.on ? "a dry run begins" : "the dry run is over";
    case "forget": return "the pace of the dry run is forgotten";
    case "round": return "a round of the dry run is done";
    case "set": return "the settings were changed";
    case "beat": return e.on ? `${e.text} hears that the board is well again` : `${e.text} could not be told that the board is well`;
    case "reach": return e.on ? `${e.text} can be reached again` : `${e.text} could not be reached in time`;
    case "board": return `${ailments[e.text ?? ""] ?? e.text}${e.on ? "" : ": no longer"}`;
    case "note": return e.text ?? "";
    case "struck": return "that didn’t happen";
    case "amended": return "put right";
  }
  return e.kind;
}

/** toldSentence says what was told, for the crew to check. */
export function toldSentence(e: Told): string {
  const way = e.kind === "loaded" ? ", mark towards the door" : "";
  const ago = e.kind !== "amended" && e.earlier_s ? `, ${about(e.earlier_s)} ago` : "";
  return `Told: ${event(e)}${way}${ago}.`;
}

export const tellFailed = "That did not reach the box. Press again.";

export const past = {
  title: "The log so far",
  time: "time",
  steam: "steam end",
  door: "door end",
  boiling: "boiling here",
  help: "Drag across to look closer, double-click for the whole.",
  failed: "The log can’t be read just now.",
  none: "Nothing in the log yet.",
  marks: { loaded: "loaded", pulled: "pulled", refilled: "refilled", filled: "filled", kettle: "kettle on" } as Record<string, string>,
  label: "Temperatures of both ends over the session, with what the crew did.",
  table: "Temperatures of both ends over the session",
  unknown: "no reading",
};

export const more = {
  heat: "Heat taken",
  unit: () => `In minutes at ${degrees(100, 0)}`,
  columns: ["rib", "in the box", "steam end", "door end", "bent", "mark"],
  window: (s: Status) => `Soft from ${s.window.soft_min.toFixed(1)}, pulled at ${s.window.target_min.toFixed(1)}, too much from ${s.window.over_min.toFixed(1)} min at ${degrees(100, 0)}.`,
  before: "Before you start",
  troubles: "The program itself",
  cautions: [
    "Steam scalds before you see it. Long gloves, no bare arms, and stand to the hinge side: steam first, then reach in.",
    "Cold running water within reach: a scald wants twenty minutes of it.",
    "The box must breathe. Leave the vent and the drain open, whatever the temperatures say.",
    "A closed tank is never opened hot, and a dry boiler is never filled hot: heat off, let it cool.",
    "Burner outside or with doors open. Nothing that burns near it, and never leave it alone.",
    "Leads off the path between box and boat, off wet ground, on a breaker that trips for leakage. This board is not to hang on the boiler’s own breaker.",
    "Hear the sounder from the boat with the burner roaring before the first rib goes in. A phone may sleep: the sounder is the alarm.",
  ],
};
