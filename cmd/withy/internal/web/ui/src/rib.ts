// One rib as it lies in the box: a bar of wood with square ends and its crayon mark
// at the door end, its heat drawn along it as a texture as well as a colour.

import { svg } from "./dom";
import type { Slot, Status } from "./state";
import { clock, heat } from "./words";

/** Where: the place of a bar in the drawing, in px. */
export interface Where {
  x: number;
  y: number;
  width: number;
  height: number;
}

/** Softness: not yet, soft, too much. */
type Softness = 0 | 1 | 2;

/** Part is a stretch along the rib, from 0 at the steam end to 1 at the door end. */
interface Part {
  from: number;
  to: number;
  softness: Softness;
}

const classes = ["raw", "soft", "over"] as const;

/** patterns are the textures, made once for each drawing. */
export function patterns(): SVGElement {
  const tile = (id: string, d: string): SVGElement =>
    svg("pattern", { id, width: 9, height: 9, patternUnits: "userSpaceOnUse" }, svg("path", { class: id, d }));
  return svg("defs", {}, tile("hatch", "M-2 2 2-2M0 9 9 0M7 11 11 7"), tile("cross", "M0 0 9 9M0 9 9 0"));
}

/** parts divides a rib where its heat passes into and beyond the window. */
export function parts(along: number[], target: number, over: number): Part[] {
  const softness = (m: number): Softness => (m >= over ? 2 : m >= target ? 1 : 0);
  const cuts = [0, 1];
  for (let i = 0; i + 1 < along.length; i++) {
    const [a, b] = [along[i] ?? 0, along[i + 1] ?? 0];
    for (const limit of [target, over]) {
      if (a < limit !== b < limit) cuts.push((i + (limit - a) / (b - a)) / (along.length - 1));
    }
  }
  cuts.sort((a, b) => a - b);
  const out: Part[] = [];
  for (let i = 0; i + 1 < cuts.length; i++) {
    const [from, to] = [cuts[i] ?? 0, cuts[i + 1] ?? 0];
    if (to - from > 1e-6) out.push({ from, to, softness: softness(at(along, (from + to) / 2)) });
  }
  return out;
}

/** at reads the heat at a place between 0 and 1. */
function at(along: number[], place: number): number {
  const p = place * (along.length - 1);
  const i = Math.min(Math.floor(p), along.length - 2);
  if (i < 0) return along[0] ?? 0;
  const [a, b] = [along[i] ?? 0, along[i + 1] ?? 0];
  return a + (b - a) * (p - i);
}

/** words says how soft an end is, 0 for the steam end. */
export function words(slot: Slot, end: 0 | 1, window: Status["window"]): string {
  const m = slot.ends?.[end].exposure_min ?? 0;
  return heat.words[m >= window.over_min ? 2 : m >= window.target_min ? 1 : 0];
}

/** bar draws the rib. */
export function bar(slot: Slot, s: Status, w: Where): SVGElement {
  const g = svg("g", { class: "bar" });
  for (const p of parts(slot.along_min ?? [], s.window.target_min, s.window.over_min)) g.append(...stretch(p, w));
  const unsure = slot.sure ? "" : "?";
  g.append(svg("rect", { class: "outline", x: w.x, y: w.y, width: w.width, height: w.height }),
    crayon(w),
    svg("text", { class: "inbox", x: w.x + 10, y: w.y + 26 }, `${clock(slot.in_s ?? 0)}${unsure}`,
      w.width > 240 ? svg("tspan", { dx: 8 }, heat.inBox) : null));
  return g;
}

function stretch(p: Part, w: Where): SVGElement[] {
  const x = w.x + p.from * w.width;
  const width = (p.to - p.from) * w.width;
  const place = { x, y: w.y, width, height: w.height };
  const out = [svg("rect", { class: classes[p.softness], ...place })];
  if (p.softness !== 1) out.push(svg("rect", { fill: p.softness === 0 ? "url(#hatch)" : "url(#cross)", ...place }));
  if (width > 84) out.push(svg("text", { class: "small", x: x + 10, y: w.y + w.height - 8 }, heat.words[p.softness]));
  return out;
}

/** crayon is the stroke on the end that lies at the door. */
function crayon(w: Where): SVGElement {
  const x = w.x + w.width - 9;
  return svg("path", { class: "crayon", d: `M${x - 3} ${w.y + 5}l6 ${w.height / 4}l-6 ${w.height / 4}l6 ${w.height / 4}l-5 ${w.height / 4 - 10}` });
}
