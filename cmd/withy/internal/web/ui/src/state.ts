// What the daemon serves, as far as the page reads it. A field with ? is absent
// when it isn't known.

import type { Units } from "./measure";

export type Sound = "" | "look" | "ready soon" | "pull" | "kettle" | "danger";
export type Mark = "port" | "starboard";
export type Outcome = "supple" | "stiff" | "cracked";
export type Phase = "cold" | "warming" | "ready" | "running" | "cooling" | "blind";

export interface View {
  seq: number;
  session: string;
  status: Status;
  says: string[] | null;
  stop_says: string;
  asks?: string; // about status.proposal
  hull_says: string[] | null; // for each of status.hulls
  advice: string[] | null;
  alarms: Alarm[] | null;
  troubles: string[] | null;
  speed: number;
  sound: { n: number; sound?: Sound };
  answer: Answer;
  units?: Units;
  rig?: RigItem[] | null;
  outputs?: Output[] | null;
}

/** Output is one way to reach somebody away from the box. */
export interface Output {
  name: string;
  kind: string;
  good_s?: number; // since something was last taken
  bad_s?: number; // since something last failed
  fails?: string; // why the last attempt failed
  waiting: number; // alarms that it has not been told of
  late: boolean;
}

/** Tried is what became of a test message by one output. */
export interface Tried {
  name: string;
  kind: string;
  ok: boolean;
  says?: string;
}

/** RigItem is one thing of the rig to be right before the fire is lit. */
export interface RigItem {
  item: string;
  title: string;
  state: "open" | "good" | "wrong";
  says: string;
  do: string[] | null;
  ask?: string; // the words of its button; absent where nobody can tell it by hand
  sound?: Sound; // to be tried
}

/** Dry is the dry run: sticks, no steam. */
export interface Dry {
  on: boolean;
  rounds: number;
  since_s?: number; // of this round
  last_s?: number;
  pace_s?: number; // median
}

/** Answer is what was said to the last press of a button, pedal or key. */
export interface Answer {
  n: number; // another with every answer
  says?: string;
  undo_s?: number; // for so long the same press again says no to it
}

export interface Status {
  box: string;
  boat: string;
  rehearsal: boolean;
  elapsed_s: number;
  phase: Phase;
  boiling_c: number;
  probes: Probe[] | null;
  hotter: "steam" | "door" | "";
  gradient_k: number;
  warm_up: { first_steam_s?: number; level_s?: number; ready_s?: number; not_before_s: number; forced: boolean };
  slots: Slot[] | null;
  calls: Call[] | null;
  resting: boolean;
  rhythm: Rhythm;
  water: Water;
  ribs: Rib[] | null;
  bent: { supple: number; stiff: number; cracked: number; untold: number; to_go: number };
  window: { soft_min: number; target_min: number; over_min: number };
  out_of_box: { bend_s: number; shape_s: number; give_s: number; adjust_s: number };
  pace: Pace;
  ledger: Ledger;
  hulls: Hull[] | null;
  sticks: Stick[] | null;
  try?: { rib: string; slot: string };
  proposal?: Proposal;
  heat: Heat;
  heat_off: boolean;
  dry?: Dry;
  boiler_kind: "open-pot" | "closed-tank" | "second-boiler" | "no-refill";
}

export interface Probe {
  name: string;
  x_m: number;
  temp_c?: number;
  fault?: string;
}

export interface EndHeat {
  exposure_min: number;
  exposure_lo_min: number;
  exposure_hi_min: number;
  core_c: number;
}

export interface Slot {
  slot: string;
  rib?: string;
  in_s?: number;
  ends?: [EndHeat, EndHeat];
  along_min?: number[];
  ready_s?: number;
  over_s?: number;
  sure: boolean;
}

export interface Call {
  do: "pull" | "load" | "hold" | "wait" | "done" | "dry";
  rib?: string;
  slot?: string;
  mark?: Mark;
  boat?: string;
  in_s?: number;
  good_s?: number;
  sure: boolean;
  too_far?: boolean;
}

export interface Water {
  switch: "closed" | "open" | "unknown";
  left_l?: number;
  left_lo_l?: number;
  left_hi_l?: number;
  dry_s?: number;
  dry_lo_s?: number;
  dry_hi_s?: number;
  for_ribs?: number;
  ribs_to_go: number;
  kettle_on_s?: number;
  boiling: boolean;
  full_l: number;
  kettle_l: number;
  switch_l: number;
  kettle_lead_s: number;
  rate_l_per_h: number;
  basis: "fill-unknown" | "switch" | "fill";
  reserve_s?: number; // from the switch's trip until dry
  kettle_in_s?: number;
  break?: { loads: number; last_out_s: number; heat_off_s: number; in_time: boolean };
  refill?: { ago_s: number; litres: number; mixed_c: number; boils_again_s: number; ribs_in: number };
}

export interface Rib {
  rib: string;
  station_m: number;
  length_m: number;
  place: "waiting" | "in" | "pulled";
  pulled_s?: number;
  slot?: string;
  ends?: [EndHeat, EndHeat];
  at_pull_min?: [number, number]; // steam end, door end
  soak_s?: number;
  outcome?: Outcome | "";
  mark: Mark | "";
  fitted: boolean;
  boat?: string;
  stick?: string;
  bend?: Difficulty;
  test?: boolean;
  resteam_s?: number;
  replaces?: string;
}

export type Difficulty = "easy" | "middling" | "hard";

/** Rhythm is how ribs should go through the box as it is now. */
export interface Rhythm {
  way: string;
  slots: number;
  interval_s: number;
  soak_s?: number;
  crew_s?: number;
}

export interface Pace {
  verdict: "" | "steady" | "too-fast" | "too-slow";
  by_s?: number;
}

export interface Ledger {
  glue: string[] | null;
  replace: string[] | null;
  replaced: { rib: string; by: string }[] | null;
  spares_left?: number;
  expect_broken: number;
  make_more: number;
  keel_lift_m?: number;
  keel_too_high: boolean;
}

export interface Hull {
  boat: string;
  fitted: number;
  stations: number;
}

/** Interval is a threshold of heat with what is not known of it: 4 in 5 that it lies between. */
export interface Interval {
  median: number;
  lo: number;
  hi: number;
}

/** Stick is what the bends of one stick have shown, at one difficulty. */
export interface Stick {
  stick?: string;
  thickness_m: number;
  bend: Difficulty;
  soft_min: Interval;
  over_min: Interval;
  target_min: number; // of the cooler end
  p_supple_both_ends: number;
  bends: number;
  guess: boolean;
}

/** Proposal is what was seen at the door and not told. */
export interface Proposal {
  do: "pull" | "load";
  rib: string;
  slot: string;
  ago_s: number;
}

/** Heat is where the boiler's power goes. */
export interface Heat {
  boiler_w: number;
  walls_w: number;
  vent_w: number;
  ribs_w: number;
  spare_w: number; // below 0: so much is short
  shortest_interval_s: number; // 0: the boiler is too weak for any rib
  fitted: boolean; // the walls by this warm-up
}

export interface Alarm {
  id: string;
  on?: string;
  title: string;
  priority: "high" | "medium" | "low";
  state: "raised" | "heard" | "cleared" | "latched" | "off";
  sound?: Sound;
  since_s: number;
  consequence: string;
  cause: string;
  do: string[] | null;
  latching: boolean;
  most_off_min: number; // 0: it can't be put off
  off_till_s?: number;
  first_out: boolean;
  hushed?: boolean; // one of so many that only the high ones sound
  count: number;
}

/** alarmKey is what "heard", "reset" and "remind" name an alarm by. */
export function alarmKey(a: Alarm): string {
  return a.on ? `${a.id}/${a.on}` : a.id;
}

/** keepAway reports whether the box is, or lately was, under pressure: then nobody is called to its door. */
export function keepAway(v: View): boolean {
  return (v.alarms ?? []).some((a) => a.sound === "danger" && a.id.includes("pressure"));
}

/** hot reports whether the box has been hot enough to load: before, what is reckoned for it as it is says little. */
export function hot(s: Status): boolean {
  return s.warm_up.ready_s !== undefined || s.phase === "ready" || s.phase === "running";
}

/** beforeRun reports whether no rib has gone into the box yet; a test piece is none. */
export function beforeRun(s: Status): boolean {
  const ribs = s.ribs ?? [];
  const isTest = (label: string): boolean => ribs.some((r) => r.rib === label && r.test === true);
  return ribs.every((r) => r.test === true || r.place === "waiting") && (s.slots ?? []).every((slot) => slot.rib === undefined || isTest(slot.rib));
}

/** pulled is how many ribs have been pulled so far. */
export function pulled(s: Status): number {
  return s.bent.supple + s.bent.stiff + s.bent.cracked + s.bent.untold;
}

export interface Trace {
  elapsed_s: number[] | null;
  probes: (number | null)[][] | null;
  events: TraceEvent[] | null;
}

export interface TraceEvent {
  elapsed_s: number;
  event: CrewEvent;
}

/** CrewEvent is something that the crew did, as it is told. */
export interface CrewEvent {
  id: string;
  kind: string;
  rib?: string;
  slot?: string;
  outcome?: Outcome;
  where?: string;
  mark?: Mark;
  alarm?: string;
  minutes?: number;
  litres?: number;
  on?: boolean;
  test?: boolean;
  with?: string;
  across_pct?: number;
  through_pct?: number;
  lift_mm?: number;
  item?: string; // of the rig
  text?: string;
  earlier_s?: number;
  of?: string; // the event that is put right
  by?: string;
}

/** Told is an event before it has an id. */
export type Told = Omit<CrewEvent, "id" | "by">;
