// Each boat from above as ribbed so far, as she lies before whoever looks: the same
// way round as the edges of the screen.

import { device } from "./device";
import { el, keyed, svg, table } from "./dom";
import { along, bowEdge, sideEdge, type Edge, type Lies } from "./lie";
import type { Mark, Rib, Status, View } from "./state";
import { boat as words } from "./wait-words";

const half = 92; // px from the keel to the end of the longest rib
const margin = { bow: 44, stern: 26, side: 54 }; // px around the ribs
const apart = { upDown: 15, across: 20 }; // px between two ribs: labels are wider than high
const tallest = 620; // px of all the ribs

/** hulls shows every boat that has ribs in the table. */
export function hulls(root: HTMLElement, v: View): void {
  const list = v.status.hulls ?? [];
  const ribs = list.map((h) => ribsOf(h.boat, v.status));
  const { lies, sides } = device();
  const key = [v.hull_says, lies, sides, ribs.map((rs) => rs.map((r) => [r.rib, r.place, r.mark, r.fitted, r.outcome, r.replaces]))];
  keyed(root, JSON.stringify([key, v.status.ledger]), () => [
    ...list.map((h, i) => el("div", { class: "hull" },
      picture(h.boat, ribs[i] ?? [], v.status.ledger.replace ?? [], lies),
      el("div", {}, el("p", { class: "balance" }, v.hull_says?.[i] ?? ""),
        table(words.table, words.columns, (ribs[i] ?? []).map((r) => line(r, v.status)), { class: "unseen" })))),
    el("p", { class: "legend" }, words.legend(lies)),
  ]);
}

/** ribsOf are the ribs of a boat from its bow, each place with the rib that has it now. */
export function ribsOf(name: string, s: Status): Rib[] {
  const gone = new Set((s.ledger.replaced ?? []).map((r) => r.rib));
  const table = (s.ribs ?? []).filter((r) => (r.boat ?? "") === name && !r.test && !gone.has(r.rib));
  // A piece that the table does not have has no place of its own before it takes another's.
  return table.filter((r) => r.mark !== "" || r.replaces !== undefined).sort((a, b) => a.station_m - b.station_m);
}

function line(r: Rib, s: Status): string[] {
  const broken = (s.ledger.replace ?? []).includes(r.rib);
  const how = [broken ? "cracked, to be replaced" : words.states[r.place], r.replaces ? words.replaces(r) : ""].filter((t) => t !== "").join(", ");
  return [r.rib, words.place(r), how, words.mark(r)];
}

/** Point is a place in a drawing, in px. */
type Point = [x: number, y: number];

/** Chart turns places on the boat into places in the drawing: px from the bow along the keel, px from the keel out, positive to port. */
type Chart = (fromBow: number, toPort: number) => Point;

/** chart lays a boat of so many px out as she lies. */
export function chart(long: number, lies: Lies): { wide: number; high: number; at: Chart } {
  const bow = bowEdge(lies);
  const [length, breadth] = [long + margin.bow + margin.stern, 2 * (half + margin.side)];
  const [keelway, sideway] = [ahead(bow), ahead(sideEdge(lies, "port"))];
  const [wide, high] = along(lies) ? [length, breadth] : [breadth, length];
  const middle = (margin.stern - margin.bow + long) / 2; // from the bow to the middle of the picture
  const at: Chart = (fromBow, toPort) => [
    wide / 2 + (middle - fromBow) * keelway[0] + toPort * sideway[0],
    high / 2 + (middle - fromBow) * keelway[1] + toPort * sideway[1],
  ];
  return { wide, high, at };
}

/** ahead is one px towards an edge. */
function ahead(edge: Edge): Point {
  return { top: [0, -1], bottom: [0, 1], left: [-1, 0], right: [1, 0] }[edge] as Point;
}

function picture(name: string, ribs: Rib[], broken: string[], lies: Lies): SVGElement {
  const across = along(lies);
  const long = Math.min(tallest, Math.max(1, ribs.length - 1) * (across ? apart.across : apart.upDown));
  const [bow, stern] = [ribs[0]?.station_m ?? 0, ribs[ribs.length - 1]?.station_m ?? 0];
  const longest = Math.max(...ribs.map((r) => r.length_m), 0.001);
  const fromBow = (r: Rib): number => (stern > bow ? ((r.station_m - bow) / (stern - bow)) * long : long / 2);
  const { wide, high, at } = chart(long, lies);
  const corner: [number, number] = across ? [long / 2, half + 40] : [-25, half]; // where "port" stands
  return svg("svg", { class: "boat", width: wide, height: high, viewBox: `0 0 ${wide} ${high}`, role: "img", "aria-label": words.label(name, lies) },
    svg("path", { class: "keel", d: stretch(at(-11, 0), at(long + 18, 0)) }),
    text(words.bow, at(-25, 0)),
    text(words.port, at(...corner)),
    text(words.starboard, at(corner[0], -corner[1])),
    ...ribs.map((r) => stroke(r, fromBow(r), (r.length_m / longest) * half, broken.includes(r.rib), at, lies)));
}

/** stroke is one rib across the keel, with its mark at the side it went to. */
function stroke(r: Rib, fromBow: number, out: number, broken: boolean, at: Chart, lies: Lies): SVGElement {
  const parts: [number, number][] = broken ? [[out, 14], [-14, -out]] : [[out, -out]];
  const d = parts.map(([a, b]) => stretch(at(fromBow, a), at(fromBow, b))).join("");
  return svg("g", { class: `rib-across ${r.place}` }, svg("path", { d }),
    text(r.rib, at(fromBow, numbers(lies) * (half + (along(lies) ? 18 : 26)))),
    r.mark === "" ? null : square(r.mark, at(fromBow, r.mark === "port" ? out : -out), r.fitted));
}

/** numbers is the side on which the ribs' labels stand, 1 for port: to the left of the boat, or below her. */
function numbers(lies: Lies): 1 | -1 {
  return ["left", "bottom"].includes(sideEdge(lies, "port")) ? 1 : -1;
}

function stretch([x, y]: Point, [toX, toY]: Point): string {
  return `M${x} ${y}L${toX} ${toY}`;
}

function text(says: string, [x, y]: Point): SVGElement {
  return svg("text", { x, y: y + 5, "text-anchor": "middle" }, says);
}

function square(mark: Mark, [x, y]: Point, sure: boolean): SVGElement {
  return svg("rect", { class: sure ? mark : `${mark} called`, x: x - 5, y: y - 5, width: 10, height: 10 });
}
