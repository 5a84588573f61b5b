// The graph of the session as a table, for those who have it read out.

import { degrees } from "./measure";
import type { Trace } from "./state";
import { hours, past as words } from "./words";

/** readings are what both ends read at so many moments, evenly apart, the first and the last among them. */
export function readings(trace: Trace, most: number): string[][] {
  const times = trace.elapsed_s ?? [];
  const probes = trace.probes ?? [];
  const say = (c: number | null | undefined): string => (c == null ? words.unknown : degrees(c));
  const many = Math.min(times.length, most);
  const moments = Array.from({ length: many }, (_, i) => (many < 2 ? 0 : Math.round((i * (times.length - 1)) / (many - 1))));
  return moments.map((i) => [hours(times[i] ?? 0, true), say(probes[0]?.[i]), say(probes[probes.length - 1]?.[i])]);
}
