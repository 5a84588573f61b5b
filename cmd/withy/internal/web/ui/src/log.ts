// What was told, as it now counts: with what was put right since, and without what
// never happened.

import type { CrewEvent, TraceEvent } from "./state";

/** Line is one thing that was told. */
export interface Line {
  id: string;
  at: number; // s of the session when it happened
  event: CrewEvent;
  struckBy: string[]; // what says that it never happened
  changes: string[]; // what put it right
}

const aside = new Set(["heard", "reset", "remind", "struck", "amended"]);

/** lines lists what was told, the last to happen first. */
export function lines(events: TraceEvent[]): Line[] {
  const struck = strikes(events);
  const out = new Map<string, Line>();
  for (const { elapsed_s, event } of events) {
    if (event.kind === "amended" && event.of !== undefined && !struck.has(event.id)) change(out.get(event.of), event);
    if (aside.has(event.kind)) continue;
    out.set(event.id, { id: event.id, at: elapsed_s - (event.earlier_s ?? 0), event: { ...event }, struckBy: struck.get(event.id) ?? [], changes: [] });
  }
  const inTime = [...out.values()].sort((a, b) => a.at - b.at);
  nameRibs(inTime);
  return inTime.reverse();
}

/** strikes lists for every event the strikes of it that were not struck themselves. */
function strikes(events: TraceEvent[]): Map<string, string[]> {
  const struck = new Map<string, string[]>();
  for (const { event } of [...events].reverse()) {
    if (event.kind !== "struck" || event.of === undefined || struck.has(event.id)) continue;
    struck.set(event.of, [event.id, ...(struck.get(event.of) ?? [])]);
  }
  return struck;
}

/** change makes a line what it was put right to. */
function change(line: Line | undefined, by: CrewEvent): void {
  if (!line) return;
  const { id, kind, of, earlier_s, by: who, ...fields } = by;
  if (fields.outcome !== undefined && fields.outcome !== line.event.outcome) delete line.event.where; // where it cracked says nothing of another outcome
  Object.assign(line.event, fields);
  line.at -= earlier_s ?? 0;
  line.changes.push(id);
}

/** nameRibs says of each pull which rib it was. */
function nameRibs(inTime: Line[]): void {
  const inSlot = new Map<string, string>();
  for (const { event, struckBy } of inTime) {
    const slot = event.slot ?? "";
    if (event.kind === "pulled") {
      const rib = inSlot.get(slot);
      if (rib !== undefined) event.rib = rib;
    }
    if (struckBy.length > 0) continue;
    if (event.kind === "loaded") inSlot.set(slot, event.rib ?? "");
    if (event.kind === "pulled") inSlot.delete(slot);
  }
}
