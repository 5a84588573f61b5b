// Quantities as people read and type them, in metric or in US units, the same as the
// program says them (steambox/measure). What is kept, sent and reckoned with is metric.
//
// Factors, all exact: NIST SP 811 (2008), appendix B.8.

/** Units is which units people see. */
export type Units = "metric" | "us";

const mmPerInch = 25.4;
const inch = mmPerInch / 1000; // m
const quart = 0.946352946; // L: a quarter of 231 cubic inches
const fahrenheit = 1.8; // degrees to one of Celsius
const finest = 64; // parts of an inch
const manyQuarts = 12; // from here on water is told in gallons

let now: Units = "metric";

/** measureIn sets the units from here on, and reports whether they are others than before. */
export function measureIn(units: Units): boolean {
  const changed = units !== now;
  now = units;
  return changed;
}

/** measuredIn returns the units that are in use. */
export function measuredIn(): Units {
  return now;
}

/** inScale turns a temperature in °C into the scale that people read. */
export function inScale(c: number): number {
  return now === "us" ? c * fahrenheit + 32 : c;
}

/** scale is the name of that scale. */
export function scale(): string {
  return now === "us" ? "°F" : "°C";
}

/** degrees says a temperature in °C. */
export function degrees(c: number, decimals = 1): string {
  return `${decimal(inScale(c), decimals)} ${scale()}`;
}

/** difference says how far two temperatures are apart, from kelvin; nobody in a shed speaks of kelvins. */
export function difference(k: number, decimals = 1): string {
  return `${decimal(now === "us" ? k * fahrenheit : k, decimals)} ${scale()}`;
}

/** offset says what is added to a temperature, with its sign. */
export function offset(k: number, decimals = 2): string {
  const said = difference(k, decimals);
  return said.startsWith("-") ? said : `+${said}`;
}

/** litres says how much water there is: less than a quart in pints, three gallons and more in gallons. */
export function litres(l: number): string {
  if (now === "metric") return `${decimal(l, 1)} L`;
  const quarts = l / quart;
  if (quarts < 1) return `${decimal(quarts * 2, 1)} pt`;
  return quarts < manyQuarts ? `${decimal(quarts, 1)} qt` : `${decimal(quarts / 4, 1)} gal`;
}

/** Vessel is what volumes are told in: its name for several, and how many litres it holds. */
export interface Vessel {
  name: string;
  litres: number;
}

/** vessel returns what volumes are told in. */
export function vessel(): Vessel {
  return now === "us" ? { name: "quarts", litres: quart } : { name: "litres", litres: 1 };
}

/** length says a length in metres: in millimetres with so many decimals, or in inches to the 64th. */
export function length(m: number, decimals = 0): string {
  return now === "us" ? inches((m * 1000) / mmPerInch) : `${decimal(m * 1000, decimals)} mm`;
}

function inches(n: number): string {
  const parts = even(Math.abs(n) * finest);
  if (parts === 0) return n === 0 ? "0 in" : `under 1/${finest} in`;
  const [whole, rest] = [Math.floor(parts / finest), parts % finest];
  const by = rest & -rest; // the largest power of two in it
  const said = [whole > 0 ? String(whole) : "", rest > 0 ? `${rest / by}/${finest / by}` : ""].filter((t) => t !== "");
  return `${n < 0 ? "-" : ""}${said.join(" ")} in`;
}

/** decimal writes a number with so many decimals; what rounds to nought has no sign. */
function decimal(n: number, decimals: number): string {
  const tens = 10 ** decimals;
  const scaled = n * tens;
  const text = (scaled % 1 === 0.5 || scaled % 1 === -0.5 ? even(scaled) / tens : n).toFixed(decimals);
  return Number(text) === 0 ? text.replace("-", "") : text;
}

/** even rounds to the nearest whole number, a tie to the even one (NIST SP 811, B.7.1). */
function even(n: number): number {
  return n % 1 === 0.5 || n % 1 === -0.5 ? 2 * Math.round(n / 2) : Math.round(n);
}

/** Length is what was typed: metres, or what is wrong with it as a sentence. */
export type Length = { m: number } | { mistake: string };

/** comma is what is said to one in a number. */
export const comma = "A comma can be read in two ways: write a decimal point, and nothing between thousands.";

const longest = 1000; // m
const metres = { mm: 0.001, cm: 0.01, m: 1, in: inch, ft: 12 * inch } as const;

/** spellings make one of what keyboards make of marks, dashes, fractions and units. */
const spellings: [RegExp, string][] = [
  [/½/g, " 1/2"], [/¼/g, " 1/4"], [/¾/g, " 3/4"], [/⅛/g, " 1/8"], [/⅜/g, " 3/8"], [/⅝/g, " 5/8"], [/⅞/g, " 7/8"], [/⁄/g, "/"], [/[−–]/g, "-"],
  [/''|["”“″]|inch(es)?|in\./g, "in"], [/['’‘′]|feet|foot|ft\./g, "ft"], [/\s+/g, " "],
];

const amount = String.raw`(?:(?:(\d+)[ -]+)?(\d{1,3}) ?/ ?(\d+)|(\d+\.?\d*|\.\d+))`; // 37 5/16, 5/16, or 37.3125
const typedLength = new RegExp(`^(-?) ?${amount} ?(mm|cm|m|in|ft)?(?:[ -]*${amount} ?(?:in)?)?$`);

/**
 * parseLength reads a length as people type it: 943, 94.3 cm, 37 5/16, 3' 1 5/16". A
 * number without a unit is in millimetres, or in inches where those are in use.
 */
export function parseLength(text: string): Length {
  const such = now === "us" ? "37 5/16" : "948";
  if (text.includes(",")) return { mistake: comma };
  const m = inMetres(spellings.reduce((t, [many, one]) => t.replace(many, one), text.toLowerCase()).trim());
  if (m === undefined) return { mistake: `“${text.trim()}” is no length: write one such as ${such}.` };
  return Math.abs(m) > longest ? { mistake: `“${text.trim()}” is longer than ${longest} m.` } : { m };
}

function inMetres(typed: string): number | undefined {
  const parts = typedLength.exec(typed);
  if (!parts) return undefined;
  const unit = (parts[6] ?? (now === "us" ? "in" : "mm")) as keyof typeof metres;
  const first = number(parts.slice(2, 6));
  if (first === undefined || (parts[4] !== undefined && unit !== "in" && unit !== "ft")) return undefined;
  let m = first * metres[unit];
  if (parts.slice(7).some((p) => p !== undefined)) { // after whole feet come inches
    const second = number(parts.slice(7));
    if (second === undefined || unit !== "ft" || !Number.isInteger(first) || second >= 12) return undefined;
    m += second * inch;
  }
  return parts[1] === "-" && m !== 0 ? -m : m;
}

/** number is what the groups of an amount come to; a fraction is below 1 and in halves down to 64ths. */
function number([whole, over, under, plain]: (string | undefined)[]): number | undefined {
  if (plain !== undefined) return Number(plain);
  const [a, b] = [Number(over), Number(under)];
  return [2, 4, 8, 16, 32, 64].includes(b) && a < b ? Number(whole ?? 0) + a / b : undefined;
}
