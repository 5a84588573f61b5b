// The ribs of a boat from bow to stern, each as tall as it is long, with the curve of
// the others: one that is off it shows as a kink, with the length that they suggest.

import { plan as words } from "./before-words";
import { svg } from "./dom";
import type { PlanRib } from "./plan";

const high = 230; // px
const [top, keel] = [40, 195]; // of the longest rib, and of the line that they stand on
const side = 26; // px kept free at both ends
const letter = 9; // px that a letter takes

/** curve draws the ribs of one boat; all have a station and a fair length. */
export function curve(ribs: PlanRib[], width: number): SVGElement {
  const along = [...ribs].sort((a, b) => station(a) - station(b));
  const { x, y } = scales(along, width);
  const tips = along.map((r, i) => `${i === 0 ? "M" : "L"}${round(x(station(r)))} ${round(y(r.fair_mm ?? r.length_mm))}`).join("");
  return svg("svg", { class: "curve", width, height: high, viewBox: `0 0 ${width} ${high}`, role: "img", "aria-label": words.curveLabel(along) },
    svg("path", { class: "keel", d: `M${side / 2} ${keel}H${width - side / 2}` }),
    svg("path", { class: "fair", d: tips }),
    ...along.map((r) => stem(r, x(station(r)), y, width)), ...labels(along, x),
    svg("text", { class: "bow", x: side / 2, y: high - 4 }, words.bow));
}

const station = (r: PlanRib): number => r.station_mm ?? 0;
const round = (n: number): number => Math.round(n * 10) / 10;

/** scales are the way along the keel, and up it: a rib's deviation is seen, so the foot of the drawing is not nought. */
function scales(ribs: PlanRib[], width: number): { x: (mm: number) => number; y: (mm: number) => number } {
  const [from, to] = [station(ribs[0] as PlanRib), station(ribs[ribs.length - 1] as PlanRib)];
  const lengths = ribs.flatMap((r) => [r.length_mm, r.fair_mm ?? r.length_mm]);
  const [least, most] = [Math.min(...lengths), Math.max(...lengths)];
  const foot = Math.max(0, least - (most - least) * 0.6 - 1);
  return {
    x: (mm) => side + ((mm - from) / Math.max(1, to - from)) * (width - 2 * side),
    y: (mm) => keel - ((mm - foot) / Math.max(1, most - foot)) * (keel - top),
  };
}

function stem(r: PlanRib, x: number, y: (mm: number) => number, width: number): SVGElement {
  const odd = r.unfair && !r.meant;
  const [tip, fair] = [y(r.length_mm), y(r.fair_mm ?? r.length_mm)];
  const out = svg("g", { class: odd ? "odd" : r.meant ? "meant" : "" }, svg("path", { d: `M${round(x)} ${keel}V${round(tip)}` }));
  if (!odd) return out;
  const text = words.suggests(r);
  const half = (text.length * letter) / 2;
  out.append(svg("circle", { cx: round(x), cy: round(tip), r: 7 }),
    svg("path", { class: "to", d: `M${round(x - 9)} ${round(fair)}h18` }),
    svg("text", { x: Math.min(Math.max(x, half), width - half), y: Math.max(16, Math.min(tip, fair) - 14), "text-anchor": "middle" }, text));
  return out;
}

/** labels are as many names of ribs as there is room for; those that are off are always named. */
function labels(ribs: PlanRib[], x: (mm: number) => number): SVGElement[] {
  const out: SVGElement[] = [];
  let free = -Infinity;
  for (const [i, r] of ribs.entries()) {
    const half = (r.rib.length * letter) / 2 + 2;
    const next = ribs.slice(i + 1).find((other) => other.unfair && !other.meant);
    const room = next === undefined ? Infinity : x(station(next)) - (next.rib.length * letter) / 2 - 2;
    const at = x(station(r));
    if (!(r.unfair && !r.meant) && (at - half < free || at + half > room)) continue;
    free = at + half;
    out.push(svg("text", { x: round(at), y: keel + 18, "text-anchor": "middle" }, r.rib));
  }
  return out;
}
