// A number of the settings in the units that people read and type here, and back:
// what is kept and sent is always in the unit of its key.

import { comma, inScale, length, measuredIn, parseLength, scale, vessel } from "./measure";
import { settings as words } from "./before-words";

const foot = 0.3048; // m, exact: NIST SP 811, appendix B.8
const fahrenheit = 1.8; // degrees to a kelvin, the same

/** unitName is what stands behind a number whose key is in this unit. */
export function unitName(unit: string): string {
  switch (unit) {
    case "°C": return scale();
    case "K": return scale(); // so people call a difference
    case "L": return us() ? vessel().name : unit;
    case "mm": return us() ? "in" : unit;
    case "m": return us() ? "ft" : unit;
    default: return unit;
  }
}

/** shown is a number as it stands in its field, without its unit. */
export function shown(n: number, unit: string): string {
  if (!us()) return plain(n);
  switch (unit) {
    case "°C": return plain(inScale(n), 1);
    case "K": return plain(n * fahrenheit, 2);
    case "L": return plain(n / vessel().litres, 2);
    case "mm": return length(n / 1000).replace(/ in$/, "");
    case "m": return plain(n / foot, 0);
    default: return plain(n);
  }
}

/** Typed is what was typed: a number in the unit of the key, or a mistake. */
export type Typed = { value: number } | { mistake: string };

/** typed reads a number as people type it, with or without its unit. */
export function typed(text: string, unit: string): Typed {
  if (text.includes(",")) return { mistake: comma };
  if (us() && unit === "mm") {
    const read = parseLength(text);
    return "m" in read ? { value: rounded(read.m * 1000) } : read;
  }
  const bare = withoutUnit(text.trim(), us() ? [unitName(unit)] : [unitName(unit), unit]).replace("−", "-");
  if (!/^[-+]?(\d+\.?\d*|\.\d+)$/.test(bare)) return { mistake: words.notANumber(text.trim(), unitName(unit)) };
  return { value: us() ? rounded(metric(Number(bare), unit)) : Number(bare) };
}

function metric(n: number, unit: string): number {
  switch (unit) {
    case "°C": return (n - 32) / fahrenheit;
    case "K": return n / fahrenheit;
    case "L": return n * vessel().litres;
    case "m": return n * foot;
    default: return n;
  }
}

const us = (): boolean => measuredIn() === "us";

/** withoutUnit is a number without its unit behind it, however that is spelt: 2200 W, 2200w, 95 C, 3 l. */
function withoutUnit(text: string, units: string[]): string {
  const spelt = text.toLowerCase();
  const end = units.flatMap((u) => [u.toLowerCase(), u.toLowerCase().replace("°", "")]).find((u) => u !== "" && spelt.endsWith(u));
  return end === undefined ? text : text.slice(0, -end.length).trim();
}

/** rounded keeps what a conversion made from growing a tail that nobody typed. */
const rounded = (n: number): number => Number(n.toFixed(3));

/** plain writes a number without a tail that nobody typed. */
function plain(n: number, digits?: number): string {
  return String(Number(digits === undefined ? n.toPrecision(6) : n.toFixed(digits)));
}

/** inField is a number from a file as it stands in its field, "" where the file has none. */
export function inField(cell: string, unit: string): string {
  return cell === "" ? "" : shown(Number(cell), unit);
}
