// What the page of the shop says, in the words of the shed.

import { degrees, litres } from "./measure";
import type { ShopBox } from "./shop-state";
import type { Alarm } from "./state";
import { about, clock, phases, pullDigits } from "./words";

/** Figure is what stands large in a box's row. */
export interface Figure {
  figure: string;
  label: string;
  late: boolean;
  word: boolean; // no figures, so it need not be as large
}

/** figure is what a box calls for next. */
export function figure(b: ShopBox): Figure {
  const word = (text: string, label = ""): Figure => ({ figure: text, label, late: false, word: true });
  if (b.silent) return word(shop.silent, b.heard ? shop.since(b.age_s) : shop.never(b.age_s));
  const c = b.call;
  if (!b.heard || !c) return word("…", shop.asking);
  if (b.phase === "blind") return word("?", phases.blind);
  if (c.do === "pull") return { ...pullDigits(c), word: false };
  if (c.do === "load") return (c.in_s ?? 0) < 1 ? { figure: "now", label: "load", late: false, word: false } : { figure: clock(c.in_s ?? 0), label: "until you load", late: false, word: false };
  if (c.do === "hold") return word("break");
  if (c.do === "dry") return word("dry run");
  if (c.do === "done") return word("done", shop.done);
  return word(b.heat_off ? "off" : phases[b.phase ?? "cold"], b.heat_off ? shop.heatOff : "");
}

export const shop = {
  silent: "silent",
  since: (s: number) => `not heard for ${about(Math.max(5, s))}: look at the box itself`,
  never: (s: number) => `not heard yet, for ${about(Math.max(5, s))}`,
  asking: "asking it",
  done: "all ribs are out",
  heatOff: "the heat is off",
  rehearsal: "REHEARSAL",
  waiting: "Asking the boxes…",
  lost: (s: number) => `No word from this box for ${about(Math.max(5, s))}. What you see is old: go to the boxes.`,
  none: "No other boxes are listed. They stand in the configuration, under shop.",
  boxName: (b: ShopBox) => `Box ${b.number}`,
  whose: (b: ShopBox) => [b.name, b.boat, b.bench].filter((n) => n !== undefined && n !== "").join(", "),
  ends: (b: ShopBox) => `${end(b.steam_c)} steam end, ${end(b.door_c)} door end`,
  left: (b: ShopBox) => (b.left_l === undefined ? "" : `${litres(b.left_l)} of water left`),
  dry: (b: ShopBox) => (b.dry_lo_s === undefined ? (b.switch === "open" ? "water low" : "") : b.dry_lo_s < 60 ? "may be dry now" : `dry in ${about(b.dry_lo_s)} at the earliest`),
  toGo: (b: ShopBox) => (b.ribs_to_go ? `${b.ribs_to_go} to go` : ""),
  alarm: (b: ShopBox, a: Alarm) => `Box ${b.number}: ${a.title}${alarmStates[a.state]}${b.more_alarms ? `, and ${b.more_alarms} more` : ""}.`,
};

const alarmStates: Record<Alarm["state"], string> = { raised: "", heard: ", heard", cleared: ", over", latched: ", over, waits to be looked at", off: ", off" };

const end = (c: number | undefined): string => (c === undefined ? "?" : degrees(c));
