// Each boat from above as ribbed so far: bow up, port left, as the screen's own
// edges have it.

import { el, keyed, svg, table } from "./dom";
import type { Mark, Rib, Status, View } from "./state";
import { boat as words } from "./wait-words";

const [width, keel, half] = [280, 146, 92]; // px: of the picture, the keel in it, the widest rib from the keel out
const top = 34; // px above the first rib
const [closest, tallest] = [15, 620]; // px between two ribs, and of all of them

/** hulls shows every boat that has ribs in the table. */
export function hulls(root: HTMLElement, v: View): void {
  const list = v.status.hulls ?? [];
  const ribs = list.map((h) => ribsOf(h.boat, v.status));
  const key = [v.hull_says, ribs.map((rs) => rs.map((r) => [r.rib, r.place, r.mark, r.fitted, r.outcome, r.replaces]))];
  keyed(root, JSON.stringify([key, v.status.ledger]), () => [
    ...list.map((h, i) => el("div", { class: "hull" },
      picture(h.boat, ribs[i] ?? [], v.status.ledger.replace ?? []),
      el("div", {}, el("p", { class: "balance" }, v.hull_says?.[i] ?? ""),
        table(words.table, words.columns, (ribs[i] ?? []).map((r) => line(r, v.status)), { class: "unseen" })))),
    el("p", { class: "legend" }, words.legend),
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

function picture(name: string, ribs: Rib[], broken: string[]): SVGElement {
  const tall = Math.min(tallest, Math.max(1, ribs.length - 1) * closest);
  const height = top + tall + 26;
  const [bow, stern] = [ribs[0]?.station_m ?? 0, ribs[ribs.length - 1]?.station_m ?? 0];
  const longest = Math.max(...ribs.map((r) => r.length_m), 0.001);
  const y = (r: Rib): number => top + (stern > bow ? ((r.station_m - bow) / (stern - bow)) * tall : tall / 2);
  return svg("svg", { class: "boat", width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": words.label(name) },
    svg("path", { class: "keel", d: `M${keel} ${top - 16}V${height - 8}` }),
    svg("text", { x: keel, y: 14, "text-anchor": "middle" }, words.bow),
    svg("text", { x: keel - half, y: 14, "text-anchor": "middle" }, words.port),
    svg("text", { x: keel + half, y: 14, "text-anchor": "middle" }, words.starboard),
    ...ribs.map((r) => stroke(r, y(r), (r.length_m / longest) * half, broken.includes(r.rib))));
}

/** stroke is one rib across the keel, with its mark at the side it went to. */
function stroke(r: Rib, y: number, out: number, broken: boolean): SVGElement {
  const d = broken ? `M${keel - out} ${y}H${keel - 14}M${keel + 14} ${y}H${keel + out}` : `M${keel - out} ${y}H${keel + out}`;
  return svg("g", { class: `rib-across ${r.place}` }, svg("path", { d }),
    svg("text", { x: 22, y: y + 5, "text-anchor": "end" }, r.rib),
    r.mark === "" ? null : square(r.mark, r.mark === "port" ? keel - out : keel + out, y, r.fitted));
}

function square(mark: Mark, x: number, y: number, sure: boolean): SVGElement {
  return svg("rect", { class: sure ? mark : `${mark} called`, x: x - 5, y: y - 5, width: 10, height: 10 });
}
