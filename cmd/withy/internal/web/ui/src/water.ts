// The vessel: how much water is in it, for how long and for how many ribs.

import { byID, el, svg } from "./dom";
import type { View, Water } from "./state";
import { water as words } from "./words";

const [wide, high, top] = [92, 96, 8]; // px of the vessel

/** water draws the vessel. */
export function water(v: View): void {
  const w = v.status.water;
  const lines = [
    el("p", { class: "litres" }, words.litres(w)), el("p", {}, words.dry(w)), el("p", {}, words.ribs(w)),
  ];
  if (w.switch === "open") lines.push(el("p", { class: "low" }, words.low));
  if (w.kettle_on_s !== undefined) lines.push(el("p", { class: "low" }, words.kettle(w.kettle_on_s)));
  const root = byID("water");
  root.classList.toggle("unknown", w.left_l === undefined);
  root.replaceChildren(vessel(w), el("div", {}, el("p", { class: "name" }, words.name), ...lines));
}

function vessel(w: Water): SVGElement {
  const y = (litres: number): number => top + high - (high * Math.min(1, Math.max(0, litres / (w.full_l || 1))));
  const picture = svg("svg", { class: "vessel", viewBox: `0 0 ${wide + 36} ${high + 18}`, role: "img", "aria-label": words.label(w) });
  if (w.left_l !== undefined) {
    const [lo, hi] = [w.left_lo_l ?? w.left_l, w.left_hi_l ?? w.left_l];
    picture.append(
      svg("rect", { class: "doubt", x: 4, y: y(hi), width: wide, height: y(lo) - y(hi) }),
      svg("rect", { class: "wet", x: 4, y: y(lo), width: wide, height: y(0) - y(lo) }),
      svg("path", { class: "level", d: `M4 ${y(w.left_l)}H${wide + 4}` }));
  } else {
    picture.append(svg("text", { class: "guess", x: wide / 2 + 4, y: high / 2 + 26, "text-anchor": "middle" }, "?"));
  }
  if (w.switch_l > 0) picture.append(svg("path", { class: "float", d: `M0 ${y(w.switch_l)}H${wide + 8}` }));
  // The wall, and the hose to the box.
  picture.append(svg("path", { class: "pot", d: `M4 ${top}V${top + high}H${wide + 4}V${top}` }),
    svg("path", { class: "hose", d: `M${wide + 4} ${top + 12}h12q8 0 8 8v${high - 46}q0 8 10 8` }));
  return picture;
}
