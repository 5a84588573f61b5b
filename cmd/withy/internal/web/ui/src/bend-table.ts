// Test bends from before as they are typed, and the file that comes of them.

import { csvFormatRows, csvParseRows } from "d3-dsv";
import { bends as words } from "./before-words";
import { parseLength } from "./measure";
import { inField } from "./quantity";
import type { Difficulty, Outcome } from "./state";
import { difficulties } from "./table";

/** Bend is one test bend, as typed. */
export interface Bend {
  heat: string; // minutes at 100 °C
  outcome: Outcome;
  stick: string;
  thickness: string;
  bend: Difficulty;
  where: string; // it cracked; not shown, kept as it came
}

export const outcomes: Outcome[] = ["supple", "stiff", "cracked"];
const columns = ["exposure_min", "outcome", "stick", "thickness_mm", "bend", "where"];

/** nextBend is a new bend below another: the same piece, bent alike. */
export function nextBend(b?: Bend): Bend {
  return { heat: "", outcome: "supple", stick: b?.stick ?? "", thickness: b?.thickness ?? "", bend: b?.bend ?? "middling", where: "" };
}

/** bendsFrom reads bends that the daemon has accepted. */
export function bendsFrom(csv: string): Bend[] {
  const [head, ...rows] = csvParseRows(csv);
  return rows.map((r) => {
    const cell = (name: string): string => r[head?.indexOf(name) ?? -1] ?? "";
    return {
      heat: cell("exposure_min"), outcome: outcomes.find((o) => o === cell("outcome")) ?? "supple", stick: cell("stick"),
      thickness: inField(cell("thickness_mm"), "mm"), bend: difficulties.find((d) => d === cell("bend")) ?? "middling", where: cell("where"),
    };
  });
}

/** bendsFile writes the bends as a file, or says what is wrong with them. */
export function bendsFile(all: Bend[]): { csv: string } | { mistakes: string[] } {
  const mistakes: string[] = [];
  const rows = all.map((b, i) => {
    const heat = b.heat.trim();
    if (heat === "" || !(Number(heat) > 0)) mistakes.push(words.noHeat(i + 1));
    const thick = b.thickness.trim() === "" ? { m: 0 } : parseLength(b.thickness);
    if ("mistake" in thick) mistakes.push(`${words.of(words.heads.thickness, i + 1)}: ${thick.mistake}`);
    const mm = "m" in thick && thick.m > 0 ? String(Number((thick.m * 1000).toFixed(2))) : "";
    return [heat, b.outcome, b.stick.trim(), mm, b.bend, b.outcome === "cracked" ? b.where : ""];
  });
  if (mistakes.length > 0) return { mistakes };
  const used = columns.filter((_, i) => i < 2 || rows.some((r) => r[i] !== ""));
  return { csv: csvFormatRows([used, ...rows.map((r) => columns.flatMap((c, i) => (used.includes(c) ? [r[i] ?? ""] : [])))]) };
}
