// Quantities as people read and type them, in metric or in US units. What is kept, sent
// and reckoned with is metric.
//
// Factors: NIST SP 811 (2008), appendix B.8; all four are exact.

/** Units is which units people see. */
export type Units = "metric" | "us";

const inch = 0.0254; // m
const foot = 12; // in
const quart = 0.946352946; // L: a quarter of 231 cubic inches
const fahrenheit = 1.8; // degrees to one of Celsius
const finest = 64; // parts of an inch

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
export function degrees(c: number, digits = 1): string {
  return `${fixed(inScale(c), digits)} ${scale()}`;
}

/** difference says how far two temperatures are apart, from kelvin. */
export function difference(k: number): string {
  return `${fixed(now === "us" ? k * fahrenheit : k, 1)} ${scale()}`;
}

/** litres says a volume in litres: below a gallon in quarts, else in gallons. */
export function litres(l: number): string {
  if (now === "metric") return `${fixed(l, 1)} L`;
  const quarts = l / quart;
  return quarts < 3.95 ? `${fixed(quarts, 1)} qt` : `${fixed(quarts / 4, 1)} gal`;
}

/** Vessel is what volumes are typed in: its name for several, and how many litres it holds. */
export interface Vessel {
  name: string;
  litres: number;
}

/** vessel returns what volumes are typed in. */
export function vessel(): Vessel {
  return now === "us" ? { name: "quarts", litres: quart } : { name: "litres", litres: 1 };
}

/** length says a length in metres along a boat or a box: "0.35 m", or "13 25/32 in". */
export function length(m: number): string {
  return now === "us" ? inches(m) : `${fixed(m, 2)} m`;
}

/** thickness says a short length in metres: "6.5 mm", or "1/4 in". */
export function thickness(m: number, digits = 1): string {
  return now === "us" ? inches(m) : `${fixed(m * 1000, digits)} mm`;
}

/** inches says a length in inches to the nearest 64th, a half of one away from nought. */
function inches(m: number): string {
  const parts = Math.round((Math.abs(m) / inch) * finest);
  const sign = m < 0 && parts > 0 ? "−" : "";
  const [whole, rest] = [Math.floor(parts / finest), parts % finest];
  if (rest === 0) return `${sign}${whole} in`;
  const by = commonPart(rest, finest);
  return `${sign}${whole > 0 ? `${whole} ` : ""}${rest / by}/${finest / by} in`;
}

function commonPart(a: number, b: number): number {
  return b === 0 ? a : commonPart(b, a % b);
}

/** fixed writes a number with so many decimals, never as −0, and with a true minus. */
function fixed(n: number, digits: number): string {
  const text = Math.abs(n).toFixed(digits);
  return n < 0 && Number(text) !== 0 ? `−${text}` : text;
}

/** Length is what was typed: metres, or what is wrong with it as a sentence. */
export type Length = { m: number } | { mistake: string };

const longest = 20; // m
const spellings: [RegExp, string][] = [[/''|["”″]|inch(es)?/g, "in"], [/['’′]|feet|foot/g, "ft"], [/\s+/g, " "]];
const metres: Record<string, number> = { mm: 0.001, cm: 0.01, m: 1, in: inch, ft: inch * foot };
const number = String.raw`(\d+(?:[.,]\d+)?|[.,]\d+)`;
const typedInches = new RegExp(String.raw`^(?:${number} ?ft ?)?(?:(?:(\d+)[ -])?(\d+) ?/ ?(\d+)|${number})?( ?in)?$`);
const typedMetric = new RegExp(`^${number} ?(mm|cm|m)?$`);

/**
 * parseLength reads a length as people type it: "943", "94.3 cm", or "37 5/16", "3' 1 5/16"" in inches.
 * A number without a unit is in millimetres, or in inches where those are in use.
 */
export function parseLength(text: string): Length {
  const typed = spellings.reduce((t, [many, one]) => t.replace(many, one), text.trim().toLowerCase());
  const m = typed === "" ? undefined : inMetres(typed);
  const such = now === "us" ? "inches, such as 37 5/16" : "millimetres, such as 943";
  if (m === undefined) return { mistake: `“${text.trim()}” is no length: write ${such}.` };
  if (m <= 0 || m > longest) return { mistake: `“${text.trim()}” can’t be: more than nothing, and ${length(longest)} at the most.` };
  return { m };
}

/** inMetres reads a length that may be metric or in inches, undefined where it is neither. */
function inMetres(typed: string): number | undefined {
  const metric = typedMetric.exec(typed);
  if (metric && (metric[2] !== undefined || now === "metric")) return amount(metric[1]) * (metres[metric[2] ?? "mm"] ?? NaN);
  const parts = typedInches.exec(typed);
  if (!parts || (now === "metric" && !/in|ft/.test(typed))) return undefined;
  const [, feet, whole, over, under, plain] = parts;
  if (under !== undefined && (Number(under) === 0 || (whole !== undefined && Number(over) >= Number(under)))) return undefined;
  const fraction = under === undefined ? amount(plain) : Number(over) / Number(under);
  return (amount(feet) * foot + amount(whole) + fraction) * inch;
}

function amount(text: string | undefined): number {
  return Number((text ?? "0").replace(",", "."));
}
