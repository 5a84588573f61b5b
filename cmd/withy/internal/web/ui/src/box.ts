// The box from above: steam comes in on the left, the door with its slot letters is
// on the right, where the crew stands. What is true of an end is written at it.

import { byID, el, setText, svg } from "./dom";
import { degrees } from "./measure";
import { bar, patterns, words as heatAt } from "./rib";
import { keepAway, type Probe, type Slot, type Status, type View } from "./state";
import { clock, ends, fault, heat, slotSentence } from "./words";

const row = 66; // px from one slot to the next
const wall = 10; // px of plank around the ribs
const plate = 40; // px of a letter at the door

let width = 0;
let newest: View | null = null;

/** box draws the box and both ends. */
export function box(v: View): void {
  newest = v;
  const probes = v.status.probes ?? [];
  end(byID("steam"), ends.steam, probes[0], v.status, "steam");
  end(byID("door"), ends.door, probes[probes.length - 1], v.status, "door");
  draw(v);
}

/** watchWidth draws again whenever the room for the box changes. */
export function watchWidth(): void {
  new ResizeObserver((entries) => {
    const w = Math.floor(entries[0]?.contentRect.width ?? 0);
    if (w === width) return;
    width = w;
    if (newest) draw(newest);
  }).observe(byID("box"));
}

function end(root: HTMLElement, name: string, p: Probe | undefined, s: Status, which: "steam" | "door"): void {
  if (root.childElementCount === 0) root.append(...["name", "temp", "under", "hot"].map((c) => el("p", { class: c })));
  const [title, temp, under, hot] = Array.from(root.children) as [Element, Element, Element, Element];
  const t = p?.temp_c;
  setText(title, name);
  setText(temp, t === undefined ? "?" : degrees(t));
  setText(under, t === undefined ? (p ? fault(p) : ends.noReading) : ends.under(s.boiling_c - t));
  setText(hot, s.hotter === "" ? "" : s.hotter === which ? ends.hotter : ends.cooler);
  root.classList.toggle("unknown", t === undefined);
}

function draw(v: View): void {
  const s = v.status;
  const slots = s.slots ?? [];
  if (width < 40) return;
  const height = slots.length * row + 2 * wall;
  const picture = svg("svg", { width, height, viewBox: `0 0 ${width} ${height}`, "aria-hidden": "true" }, patterns(), planks(height));
  const next = s.calls?.[0];
  slots.forEach((slot, i) => {
    const called = !keepAway(v) && next?.slot === slot.slot && next.do === "pull";
    picture.append(lane(slot, s, wall + i * row, called));
  });
  const text = el("ul", { class: "unseen", "aria-label": heat.boxLabel },
    ...slots.map((slot) => el("li", {}, slotSentence(slot, (i) => heatAt(slot, i, s.window)))));
  byID("box").replaceChildren(picture, text);
}

/** planks are the walls, open at the door. */
function planks(height: number): SVGElement {
  const right = width - plate - 8;
  const d = `M${right} ${wall / 2}H${wall / 2}V${height - wall / 2}H${right}`;
  const y = height / 2;
  const steam = [-14, 0, 14].map((dy) => svg("path", { class: "steam", d: `M1 ${y + dy}q5 -6 10 0t10 0` }));
  return svg("g", {}, svg("path", { class: "plank", d }), ...steam);
}

/** lane is one slot: its rib if it has one, the time, and its letter at the door. */
function lane(slot: Slot, s: Status, y: number, called: boolean): SVGElement {
  const narrow = width < 480;
  const time = narrow ? 62 : 118;
  const left = wall + (narrow ? 34 : 56);
  const inner = width - plate - time - left - 12;
  const mid = y + row / 2;
  const g = svg("g", { class: `slot${called ? " called" : ""}${slot.sure ? "" : " unsure"}` });
  if (slot.rib === undefined) {
    g.append(svg("path", { class: "rails", d: `M${left} ${mid - 18}H${left + inner}M${left} ${mid + 18}H${left + inner}` }),
      svg("text", { class: "empty", x: left + inner / 2, y: mid + 5, "text-anchor": "middle" }, heat.empty));
  } else {
    g.append(svg("text", { class: "rib", x: left - 8, y: mid + 8, "text-anchor": "end" }, slot.rib),
      bar(slot, s, { x: left, y: y + 7, width: inner * share(slot, s), height: row - 14 }),
      due(slot, s.phase === "blind", width - plate - 14, mid));
  }
  const x = width - plate - 2;
  g.append(svg("rect", { class: "plate", x, y: mid - 20, width: plate, height: 40 }),
    svg("text", { class: "letter", x: x + plate / 2, y: mid + 10, "text-anchor": "middle" }, slot.slot));
  return g;
}

/** share is how much of the box's length a rib takes. */
function share(slot: Slot, s: Status): number {
  const probes = s.probes ?? [];
  const long = probes[probes.length - 1]?.x_m ?? 0;
  const rib = (s.ribs ?? []).find((r) => r.rib === slot.rib)?.length_m ?? 0;
  return long > 0 && rib > 0 ? Math.min(1, Math.max(0.3, rib / long)) : 1;
}

/** due is what is written at the door end: time to ready, then how long it keeps. */
function due(slot: Slot, blind: boolean, x: number, mid: number): SVGElement {
  const [time, what] = dueWords(slot, blind);
  return svg("g", { class: "due", "text-anchor": "end" },
    svg("text", { class: "time", x, y: mid + 2 }, slot.sure || time === "?" ? time : `${time}?`), svg("text", { class: "what", x, y: mid + 20 }, what));
}

function dueWords(slot: Slot, blind: boolean): [string, string] {
  if (blind || slot.ready_s === undefined) return ["?", blind ? heat.blind : heat.cold];
  if (slot.ready_s >= 1) return [clock(slot.ready_s), heat.to];
  if (slot.over_s === undefined) return ["∞", heat.keeps];
  return slot.over_s < 1 ? ["0:00", heat.over] : [clock(slot.over_s), heat.spare];
}
