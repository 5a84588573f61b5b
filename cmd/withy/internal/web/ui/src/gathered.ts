// Alarms of one kind that are on several things, such as ribs: they are shown, said and
// answered as one.

import type { Alarm } from "./state";

/** Gathered is at least one alarm, and others of its kind that stand as it does. */
export type Gathered = [Alarm, ...Alarm[]];

/** gathered puts alarms that differ only in what they are on together, where the first of them stands. */
export function gathered(list: Alarm[]): Gathered[] {
  const lines = new Map<string, Gathered>();
  for (const a of list) {
    const kind = `${a.id} ${a.state} ${a.title}`;
    const line = lines.get(kind);
    if (line) line.push(a);
    else lines.set(kind, [a]);
  }
  return [...lines.values()];
}
