// The settings as they are shown and typed: each with its unit and range, in the
// units that people read here.

import { settings as words } from "./before-words";
import { measuredIn, type Units } from "./measure";
import { shown, typed, unitName } from "./quantity";
import { about } from "./words";

/** Setting is one thing that can be set at the box. */
export interface Setting {
  key: string;
  group: string;
  says: string;
  help?: string;
  kind: "number" | "word" | "switch" | "time" | "text" | "list";
  unit?: string;
  lo: number; // of a number in its unit, of a time in s, of a list or a text in members or letters
  hi: number;
  none?: boolean; // 0, or no word, is allowed too
  words?: string[];
  value: Value | null;
  from: "page" | "file" | "default";
}

export type Value = number | string | boolean | string[];

/** asText is a value as it stands in its field. */
export function asText(s: Setting, v: Value | null = s.value): string {
  if (v === null) return "";
  if (Array.isArray(v)) return v.join(", ");
  return typeof v === "number" ? shown(v, s.unit ?? "") : String(v);
}

/** Read is what was typed: a value, or a mistake. */
export type Read = { value: Value } | { mistake: string };

/** asValue reads what was typed into the field of a setting. */
export function asValue(s: Setting, text: string): Read {
  const trimmed = text.trim();
  switch (s.kind) {
    case "number": return number(s, trimmed);
    case "switch": return { value: trimmed === "true" };
    case "list": return { value: trimmed.split(",").map((part) => part.trim()).filter((part) => part !== "") };
    case "time": return /^(\d+(\.\d+)?(h|m|s))+$/.test(trimmed) ? { value: trimmed } : { mistake: words.notATime };
    default: return { value: trimmed };
  }
}

function number(s: Setting, text: string): Read {
  const read = typed(text, s.unit ?? "");
  if ("mistake" in read || (s.none && read.value === 0)) return read;
  return read.value < s.lo || read.value > s.hi ? { mistake: words.outside(range(s)) } : read;
}

/** Draft is what was typed into a field and not sent yet. */
export interface Draft {
  text: string;
  typedIn: Units;
  read: Read; // in those units
}

/** drafted reads what was typed in the units in use now. */
export function drafted(s: Setting, text: string): Draft {
  return { text, typedIn: measuredIn(), read: asValue(s, text) };
}

/** draftText is a draft as it stands in its field: where other units came into use, as long, as warm or as much in those. */
export function draftText(s: Setting, d: Draft): string {
  return d.typedIn === measuredIn() || "mistake" in d.read ? d.text : asText(s, d.read.value);
}

/** range says between which bounds a number or a time may be, in the units shown; "" for all else. */
export function range(s: Setting): string {
  if (s.kind === "time") return words.between(about(s.lo), about(s.hi));
  if (s.kind !== "number") return "";
  const bounds = `${words.between(shown(s.lo, s.unit ?? ""), shown(s.hi, s.unit ?? ""))} ${unitName(s.unit ?? "")}`.trim();
  return s.none ? words.orNone(bounds) : bounds;
}

/** mistakesOf shares mistakes out among the settings that they name; what names none comes under "". */
export function mistakesOf(mistakes: string[], settings: Setting[]): Map<string, string[]> {
  const out = new Map<string, string[]>();
  const longestFirst = settings.map((s) => s.key).sort((a, b) => b.length - a.length);
  for (const m of mistakes) {
    const key = longestFirst.find((k) => names(m, k)) ?? "";
    const says = key !== "" && m.startsWith(`${key}: `) ? m.slice(key.length + 2) : m; // beside its field it needs no name
    out.set(key, [...(out.get(key) ?? []), says]);
  }
  return out;
}

/** names reports whether a mistake names a key, and not one that merely begins or ends like it. */
function names(mistake: string, key: string): boolean {
  const at = mistake.indexOf(key);
  const beside = (c: string | undefined): boolean => c === undefined || !/[\w.]/.test(c) || c === "";
  return at >= 0 && beside(mistake[at - 1]) && !/\w/.test(mistake[at + key.length] ?? "");
}
