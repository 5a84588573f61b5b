// What this screen keeps for itself, in the browser's own store: where it stands, how
// the boat lies before it, its look, its voice and its keys. Nothing of it is the
// daemon's business.

import type { Lies } from "./lie";
import type { Units } from "./measure";
import type { Mark } from "./state";

/** Press is what a key can be set to do. */
export type Press = "next" | "supple" | "stiff" | "cracked" | "kettle" | "stop" | "heard";

export const presses: Press[] = ["next", "supple", "stiff", "cracked", "kettle", "stop", "heard"];

/** Look is how the page looks; "auto" is as the device itself is set. */
export type Look = "auto" | "light" | "dark" | "sun";

/** Device is what is kept. */
export interface Device {
  place: "box" | "boat";
  look: Look;
  units: Units | "shop"; // "shop" is as the box has them
  voice: boolean;
  rate: number; // of speech, 1 for usual
  keys: Partial<Record<Press, string>>; // by the key's place on the board, such as F7; absent: none
  lies: Lies;
  sides: Record<Mark, string>; // own names of the boat's sides, "" for none
}

const store = "withy";
const longestName = 24;
export const rates = { slow: 0.8, usual: 1, quick: 1.25 } as const;

/** readDevice takes what was kept, field by field: what can't be read is as it was at first. */
export function readDevice(text: string | null): Device {
  const kept = record(parse(text));
  const [lies, sides, keys] = [record(kept.lies), record(kept.sides), record(kept.keys)];
  return {
    place: oneOf(kept.place, ["box", "boat"]),
    look: oneOf(kept.look, ["auto", "light", "dark", "sun"]),
    units: oneOf(kept.units, ["shop", "metric", "us"]),
    voice: kept.voice !== false,
    rate: Object.values(rates).find((r) => r === kept.rate) ?? rates.usual,
    keys: Object.fromEntries(presses.map((p) => [p, keys[p]]).filter(([, key]) => typeof key === "string" && key !== "")),
    lies: { keel: oneOf(lies.keel, ["down", "up"]), bow: oneOf(lies.bow, ["away", "towards", "left", "right"]) },
    sides: { port: name(sides.port), starboard: name(sides.starboard) },
  };
}

function parse(text: string | null): unknown {
  try {
    return JSON.parse(text ?? "{}");
  } catch {
    return {};
  }
}

function record(x: unknown): Record<string, unknown> {
  return typeof x === "object" && x !== null ? (x as Record<string, unknown>) : {};
}

/** oneOf returns x where it is one of those, else the first of them. */
function oneOf<T extends string>(x: unknown, those: [T, ...T[]]): T {
  return those.find((t) => t === x) ?? those[0];
}

function name(x: unknown): string {
  return typeof x === "string" ? x.trim().slice(0, longestName) : "";
}

let now: Device | null = null;
const listeners: (() => void)[] = [];

/** device returns what is kept now. */
export function device(): Device {
  now ??= readDevice(stored());
  return now;
}

/** onDevice calls changed after each change of what is kept. */
export function onDevice(changed: () => void): void {
  listeners.push(changed);
}

/** keep changes some of it. Where the browser stores nothing it holds until the page is left. */
export function keep(change: Partial<Device>): void {
  now = { ...device(), ...change };
  try {
    localStorage.setItem(store, JSON.stringify(now));
  } catch {
    // A private window: what was set holds for this visit.
  }
  for (const changed of listeners) changed();
}

function stored(): string | null {
  try {
    return localStorage.getItem(store);
  } catch {
    return null;
  }
}
