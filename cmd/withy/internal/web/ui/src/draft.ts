// The rib table as far as it was typed, kept in the browser's own store: a phone lets a
// page go while one measures the next rib, and makes it anew.

import type { Units } from "./measure";
import { emptyLine, type Line } from "./table";

const store = "withy ribs";

/** Draft is lines that nobody has taken yet, and the units that they were typed in. */
export interface Draft {
  lines: Line[];
  typedIn: Units;
}

/** keepDraft keeps a draft as long as this tab is open, or drops it. Where the browser stores nothing it is gone with the page. */
export function keepDraft(draft: Draft | null): void {
  try {
    if (draft) sessionStorage.setItem(store, JSON.stringify(draft));
    else sessionStorage.removeItem(store);
  } catch {
    // A private window.
  }
}

/** storedDraft is what was kept, null if nothing. */
export function storedDraft(): Draft | null {
  try {
    return readDraft(sessionStorage.getItem(store));
  } catch {
    return null;
  }
}

/** readDraft reads a draft; what is missing in a line of it is empty. */
export function readDraft(text: string | null): Draft | null {
  if (text === null) return null;
  const { lines, typedIn } = JSON.parse(text) as Partial<Draft>;
  if (!Array.isArray(lines)) return null;
  return { lines: lines.map((l) => ({ ...emptyLine(""), ...l })), typedIn: typedIn === "us" ? "us" : "metric" };
}
