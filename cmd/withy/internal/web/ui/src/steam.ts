// How ribs go through the box, where the boiler's heat goes, and what is known of the
// water.

import { el, keyed, svg, table } from "./dom";
import { patterns } from "./rib";
import { hot, type Heat, type Status, type View } from "./state";
import { pot, steam as words } from "./wait-words";

const [wide, high] = [600, 40]; // of the bar, in its own units

/** paceAndHeat shows the rhythm and the boiler's budget. */
export function paceAndHeat(root: HTMLElement, v: View): void {
  const { rhythm, heat } = v.status;
  const rounded = parts(heat).map((p) => words.watts(p.w));
  keyed(root, JSON.stringify([rounded, words.watts(heat.boiler_w), rhythm, going(v.status), heat.fitted, Math.round(heat.shortest_interval_s)]), () => [
    el("p", {}, [going(v.status), rhythm.crew_s === undefined ? "" : words.crew(rhythm.crew_s), words.shortest(heat)].join(" ")),
    bar(heat),
    el("p", { class: "parts" }, el("span", {}, `${words.boiler} `, el("b", {}, words.watts(heat.boiler_w))), ...parts(heat).map(part)),
    heat.fitted ? null : el("p", { class: "guessed" }, words.guess),
    table(words.label, words.columns, [[words.boiler, words.watts(heat.boiler_w)], ...parts(heat).map((p) => [words.parts[p.name], words.watts(p.w)])], { class: "unseen" }),
  ]);
}

/** going says how ribs should follow one another, while any are to come. */
function going(s: Status): string {
  if (!hot(s)) return s.dry?.pace_s === undefined ? words.notHot : words.byDryRun(s.dry.pace_s);
  return s.calls?.[0]?.do === "done" ? "" : words.rhythm(s.rhythm);
}

/** Part is where some of the heat goes. */
interface Part {
  name: keyof typeof words.parts;
  w: number;
}

/** parts divides the heat; what is short is heat that the ribs ask for and the boiler has not. */
export function parts(h: Heat): Part[] {
  const short = Math.max(0, -h.spare_w);
  const all: Part[] = [{ name: "walls", w: h.walls_w }, { name: "vent", w: h.vent_w }, { name: "ribs", w: h.ribs_w }];
  return [...all, short > 0 ? { name: "short", w: short } : { name: "spare", w: h.spare_w }];
}

function part(p: Part): HTMLElement {
  return el("span", {}, svg("svg", { class: "swatch", viewBox: "0 0 20 20", "aria-hidden": "true" }, ...block(p.name, 0, 1, 20, 18)), ` ${words.parts[p.name]} `, el("b", {}, words.watts(p.w)));
}

/** bar is the boiler's heat from left to right; what stands beyond its end is short. */
function bar(h: Heat): SVGElement {
  const used = h.walls_w + h.vent_w + h.ribs_w;
  const scale = (wide - 8) / Math.max(h.boiler_w, used, 1);
  const out: SVGElement[] = [];
  let x = 4;
  for (const p of parts(h).filter((q) => q.name !== "short")) {
    out.push(...block(p.name, x, 6, p.w * scale, high - 12));
    x += p.w * scale;
  }
  const end = 4 + h.boiler_w * scale;
  if (h.spare_w < 0) out.push(...block("short", end, 6, -h.spare_w * scale, high - 12));
  return svg("svg", { class: "budget", viewBox: `0 0 ${wide} ${high}`, role: "img", "aria-label": words.label }, patterns(), ...out,
    svg("path", { class: "end-of-boiler", d: `M${end} 0V${high}` }));
}

/** block is a stretch of the bar in its own texture. */
function block(name: Part["name"], x: number, y: number, width: number, height: number): SVGElement[] {
  const place = { x, y, width: Math.max(0, width), height };
  const out = [svg("rect", { class: `power ${name}`, ...place })];
  if (name === "vent") out.push(svg("rect", { fill: "url(#hatch)", ...place }));
  if (name === "short") out.push(svg("rect", { fill: "url(#cross)", ...place }));
  return out;
}

/** supply says what the account of the water rests on, and what comes next. */
export function supply(root: HTMLElement, v: View): void {
  const lines = pot.lines(v.status.water);
  keyed(root, lines.join("\n"), () => [el("ul", {}, ...lines.map((l) => el("li", {}, l)))]);
}
