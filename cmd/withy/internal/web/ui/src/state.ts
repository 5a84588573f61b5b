// What the daemon serves, as far as the page reads it. A field with ? is absent
// when it isn't known.

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
  alarms: Alarm[] | null;
  troubles: string[] | null;
  speed: number;
  sound: { n: number; sound?: Sound };
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
  water: Water;
  ribs: Rib[] | null;
  bent: { supple: number; stiff: number; cracked: number; untold: number; to_go: number };
  window: { soft_min: number; target_min: number; over_min: number };
  heat_off: boolean;
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
  do: "pull" | "load" | "hold" | "wait" | "done";
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
}

export interface Rib {
  rib: string;
  length_m: number;
  place: "waiting" | "in" | "pulled";
  pulled_s?: number;
  slot?: string;
  ends?: [EndHeat, EndHeat];
  soak_s?: number;
  outcome?: Outcome | "";
  mark: Mark | "";
  fitted: boolean;
  boat?: string;
}

export interface Alarm {
  id: string;
  on?: string;
  title: string;
  priority: "high" | "medium" | "low";
  state: "raised" | "heard" | "cleared" | "latched";
  sound?: Sound;
  since_s: number;
  consequence: string;
  do: string[] | null;
  latching: boolean;
  count: number;
}

/** alarmKey is what "heard" and "reset" name an alarm by. */
export function alarmKey(a: Alarm): string {
  return a.on ? `${a.id}/${a.on}` : a.id;
}

/** keepAway reports whether the box is, or lately was, under pressure: then nobody is called to its door. */
export function keepAway(v: View): boolean {
  return (v.alarms ?? []).some((a) => a.sound === "danger" && a.id.includes("pressure"));
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
  litres?: number;
  on?: boolean;
  by?: string;
}

/** Told is an event before it has an id. */
export type Told = Omit<CrewEvent, "id" | "by">;
