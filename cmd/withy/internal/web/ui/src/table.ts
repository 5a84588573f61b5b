// The rib table as it is typed: lines of text with lengths as people write them, and
// the file that comes of it, in millimetres.

import { csvFormatRows, csvParseRows } from "d3-dsv";
import { ribTable as words } from "./before-words";
import { parseLength, type Units } from "./measure";
import { inField } from "./quantity";
import type { Difficulty } from "./state";

/** Line is one rib, as typed. Columns that are not shown are kept as they came. */
export interface Line {
  rib: string;
  length: string;
  station: string;
  thickness: string;
  width: string;
  stick: string;
  boat: string;
  bend: Difficulty | "";
  meant: boolean; // off the curve of the others on purpose
  came: Partial<Record<LengthField, string>>; // lengths in mm as the box has them
}

export const difficulties: Difficulty[] = ["easy", "middling", "hard"];

const lengths = { length: "length_mm", station: "station_mm", thickness: "thickness_mm", width: "width_mm" } as const;
type LengthField = keyof typeof lengths;
const lengthFields = Object.keys(lengths) as LengthField[];
/** fieldOf is the field that a column of the file is typed in. */
export function fieldOf(column: string): keyof Line {
  return lengthFields.find((f) => lengths[f] === column) ?? (["stick", "boat", "bend", "meant"] as const).find((f) => f === column) ?? "rib";
}

const columns = ["rib", "length_mm", "station_mm", "thickness_mm", "width_mm", "stick", "boat", "bend", "meant"];

/** emptyLine is a rib with nothing but its label. */
export function emptyLine(rib: string): Line {
  return { rib, length: "", station: "", thickness: "", width: "", stick: "", boat: "", bend: "", meant: false, came: {} };
}

/** nextLabel is what the rib after this one bears: 8 after 7, F8 after F7, or the next one that none has; nothing where nothing follows. */
export function nextLabel(label: string, taken: string[] = []): string {
  const [, head, digits] = /^(.*?)(\d+)$/.exec(label) ?? [];
  if (digits === undefined) return "";
  for (let n = Number(digits) + 1; ; n++) if (!taken.includes(`${head}${n}`)) return `${head}${n}`;
}

/** following is a new line below others: the boat, stick, section and difficulty of the last, with the next label. */
export function following(all: Line[]): Line {
  const last = all[all.length - 1];
  if (!last) return emptyLine("1");
  return { ...last, rib: nextLabel(last.rib, all.map((l) => l.rib)), length: "", station: "", meant: false, came: {} };
}

/** Mistake is what is wrong with a line, by its number from 0, and which field of it. */
export interface Mistake {
  line: number;
  field: keyof Line;
  says: string;
}

/** Table is a file as text, or what is wrong with the lines. */
export type Table = { csv: string } | { mistakes: Mistake[] };

/** asFile writes the lines as a file; columns that nobody filled in are left out. */
export function asFile(lines: Line[]): Table {
  const mistakes: Mistake[] = [];
  const seen = new Set<string>();
  const rows = lines.map((l, line) => {
    const wrong = (field: keyof Line, says: string): void => void mistakes.push({ line, field, says });
    if (l.rib.trim() === "") wrong("rib", words.noLabel);
    else if (seen.has(l.rib.trim())) wrong("rib", words.twice(l.rib.trim()));
    seen.add(l.rib.trim());
    return cells(l, wrong);
  });
  if (mistakes.length > 0) return { mistakes };
  const used = columns.filter((_, i) => rows.some((r) => r[i] !== ""));
  return { csv: csvFormatRows([used, ...rows.map((r) => columns.flatMap((c, i) => (used.includes(c) ? [r[i] ?? ""] : [])))]) };
}

function cells(l: Line, wrong: (field: keyof Line, says: string) => void): string[] {
  const mm = Object.fromEntries(lengthFields.map((field): [LengthField, string] => {
    const text = l[field].trim();
    if (text === "" && field !== "length") return [field, ""];
    const came = l.came[field] ?? "";
    if (came !== "" && text === inField(came, "mm")) return [field, came]; // nobody typed in it: no fraction is rounded
    const read = parseLength(text);
    if ("mistake" in read) wrong(field, text === "" ? words.noLength : read.mistake);
    return [field, "m" in read ? millimetres(read.m) : ""];
  })) as Record<LengthField, string>;
  return [l.rib.trim(), mm.length, mm.station, mm.thickness, mm.width, l.stick.trim(), l.boat.trim(), l.bend, l.meant ? "yes" : ""];
}

const millimetres = (m: number): string => String(Number((m * 1000).toFixed(2)));

/** fromFile reads a table that the daemon has accepted. */
export function fromFile(csv: string): Line[] {
  const [head, ...rows] = csvParseRows(csv.replace(/^\uFEFF/, ""));
  return rows.map((r) => {
    const cell = (name: string): string => r[head?.indexOf(name) ?? -1] ?? "";
    const came = Object.fromEntries(lengthFields.map((f) => [f, cell(lengths[f])])) as Record<LengthField, string>;
    const shown = Object.fromEntries(lengthFields.map((f) => [f, inField(came[f], "mm")])) as Record<LengthField, string>;
    const bend = difficulties.find((d) => d === cell("bend")) ?? "";
    return { ...emptyLine(cell("rib")), ...shown, stick: cell("stick"), boat: cell("boat"), bend, meant: cell("meant") === "yes", came };
  });
}

/** total is the length of all ribs that can be read, in metres, and how many those are. */
export function total(lines: Line[]): { ribs: number; m: number } {
  const read = lines.map((l) => parseLength(l.length)).filter((x): x is { m: number } => "m" in x);
  return { ribs: read.length, m: read.reduce((sum, x) => sum + x.m, 0) };
}

/** withCell returns a table with one cell of one rib changed; the column is added where there is none. */
export function withCell(csv: string, boat: string, rib: string, column: string, value: string): string {
  const [head = [], ...rows] = csvParseRows(csv);
  if (!head.includes(column)) head.push(column);
  const at = (row: string[], name: string): string => row[head.indexOf(name)] ?? "";
  for (const row of rows) if (at(row, "rib") === rib && at(row, "boat") === boat) row[head.indexOf(column)] = value;
  return csvFormatRows([head, ...rows.map((row) => head.map((_, i) => row[i] ?? ""))]);
}

/** inOwnUnits has lengths bear the unit that they were typed in, so that they mean the same where others are in use. */
export function inOwnUnits(l: Line, typedIn: Units): Line {
  const unit = typedIn === "us" ? "in" : "mm";
  const text = (t: string): string => (t.trim() === "" || /[a-z'"′″]/i.test(t) ? t : `${t.trim()} ${unit}`);
  return { ...l, length: text(l.length), station: text(l.station), thickness: text(l.thickness), width: text(l.width) };
}
