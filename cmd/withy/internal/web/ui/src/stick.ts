// What the bends have shown of each stick, on a scale of heat: where it is soft,
// where it has had too much, what to aim for, and today's ribs below.

import { el, keyed, svg, table } from "./dom";
import { patterns } from "./rib";
import { hot, type Interval, type Outcome, type Rib, type Stick, type View } from "./state";
import { stick as words } from "./wait-words";

const most = 12; // ribs that are drawn, the last ones
const row = 17; // px from one of them to the next
const [top, band] = [46, 26]; // px above the band of wood, and of it
const edge = 8; // px at the sides
const letter = 10; // px that a letter takes at the most, on average

/** sticks shows every stick at the difficulties it has. */
export function sticks(root: HTMLElement, v: View): void {
  const list = v.status.sticks ?? [];
  const width = Math.max(260, Math.min(760, root.clientWidth));
  const bent = (v.status.ribs ?? []).filter((r) => r.outcome && r.at_pull_min);
  keyed(root, JSON.stringify([list, width, v.status.window, hot(v.status), bent.map((r) => [r.rib, r.outcome, ends(r)])]), () =>
    list.length === 0
      ? [el("p", {}, words.byHand(v.status.window))]
      : [el("p", {}, words.unit()), hot(v.status) ? null : el("p", { class: "guessed" }, words.notHot),
        ...list.map((k) => one(k, bent.filter((r) => of(r, k)), width)), bent.length === 0 ? null : el("p", { class: "legend" }, words.legend)]);
}

/** of reports whether a rib is of a stick and bent as hard. */
function of(r: Rib, k: Stick): boolean {
  return (r.stick ?? "") === (k.stick ?? "") && (r.bend ?? "middling") === k.bend;
}

/** ends is the heat that a rib's cooler and its hotter end had at the pull. */
function ends(r: Rib): [number, number] {
  const [a, b] = r.at_pull_min ?? [0, 0];
  return [Math.min(a, b), Math.max(a, b)];
}

function one(k: Stick, bent: Rib[], width: number): HTMLElement {
  const says = [words.soft(k.soft_min), words.over(k.over_min), words.aim(k)];
  const last = [...bent].sort((a, b) => (b.pulled_s ?? 0) - (a.pulled_s ?? 0));
  return el("div", { class: "stick" },
    el("h3", {}, words.name(k)),
    el("p", {}, k.guess ? el("b", { class: "guessed" }, words.guess) : words.bends(k.bends)),
    el("p", {}, says.join(" ")),
    picture(k, last.slice(0, most), width),
    table(words.table, words.columns, last.map((r) => words.row(r, ends(r))), { class: "unseen" }));
}

/** Scale turns heat into px, each doubling as wide as the next. */
type Scale = (heat: number) => number;

/** bounds are the least and the greatest heat that a picture has room for. */
export function bounds(k: Stick, heats: number[]): [number, number] {
  const all = [k.soft_min.lo, k.target_min, Math.min(k.over_min.hi, 4 * k.over_min.median), k.over_min.median, ...heats].filter((h) => h > 0.1);
  return [Math.min(...all) / 1.3, Math.max(...all) * 1.3];
}

function picture(k: Stick, bent: Rib[], width: number): SVGElement {
  const [lo, hi] = bounds(k, bent.flatMap(ends));
  const x: Scale = (heat) => {
    const at = Math.log(Math.max(heat, lo) / lo) / Math.log(hi / lo);
    return edge + Math.min(1, at) * (width - 2 * edge);
  };
  const foot = top + band + 26 + bent.length * row;
  const height = foot + 24;
  const aim = x(k.target_min);
  return svg("svg", { class: "scale", width, height, viewBox: `0 0 ${width} ${height}`, role: "img", "aria-label": words.label(k) },
    patterns(),
    ...whisker(x, k.soft_min, 12, words.softMark, width), ...whisker(x, k.over_min, 32, words.overMark, width),
    ...wood(k, x, width), ...ticks(x, lo, hi),
    svg("path", { class: "aim", d: `M${aim} ${top - 4}V${foot}` }),
    svg("text", { class: "aimed", x: Math.min(Math.max(aim, 30), width - 30), y: foot + 17, "text-anchor": "middle" }, words.aimMark(k)),
    ...bent.map((r, i) => bend(r, x, aim, top + band + 32 + i * row)));
}

/** whisker is a threshold with what is not known of it. */
function whisker(x: Scale, i: Interval, y: number, name: string, width: number): SVGElement[] {
  const [from, to, mid] = [x(i.lo), x(i.hi), x(i.median)];
  const after = to + 8 + name.length * letter < width;
  return [
    svg("path", { class: "whisker", d: `M${from} ${y - 5}v10M${from} ${y}H${to}M${to} ${y - 5}v10` }),
    svg("circle", { class: "median", cx: mid, cy: y, r: 5 }),
    svg("text", { x: after ? to + 8 : from - 8, y: y + 5, "text-anchor": after ? "start" : "end" }, name),
  ];
}

/** wood is the band: not yet, soft, too much. */
function wood(k: Stick, x: Scale, width: number): SVGElement[] {
  const soft = x(k.soft_min.median);
  const over = Math.max(soft, x(k.over_min.median));
  const part = (fill: Record<string, string>, from: number, to: number): SVGElement =>
    svg("rect", { ...fill, x: from, y: top, width: to - from, height: band });
  return [
    part({ class: "raw" }, edge, soft), part({ fill: "url(#hatch)" }, edge, soft), part({ class: "soft" }, soft, over),
    part({ class: "over" }, over, width - edge), part({ fill: "url(#cross)" }, over, width - edge), part({ class: "outline" }, edge, width - edge),
  ];
}

function ticks(x: Scale, lo: number, hi: number): SVGElement[] {
  const out: SVGElement[] = [];
  for (let heat = 2 ** Math.ceil(Math.log2(lo)); heat <= hi; heat *= 2) {
    out.push(svg("path", { class: "tick", d: `M${x(heat)} ${top + band}v5` }),
      svg("text", { class: "tick", x: x(heat), y: top + band + 19, "text-anchor": "middle" }, String(heat)));
  }
  return out;
}

/** bend is one rib from its cooler to its hotter end, with how it bent at both. */
function bend(r: Rib, x: Scale, aim: number, y: number): SVGElement {
  const [cool, hot] = ends(r).map(x) as [number, number];
  const after = cool < 60 || Math.abs(aim - (cool - 21)) < 16; // clear of the edge and of what is aimed for
  return svg("g", { class: `bent ${r.outcome}` },
    svg("path", { d: `M${cool} ${y}H${hot}` }), mark(r.outcome as Outcome, cool, y), mark(r.outcome as Outcome, hot, y),
    svg("text", { x: after ? hot + 11 : cool - 11, y: y + 5, "text-anchor": after ? "start" : "end" }, r.rib));
}

function mark(o: Outcome, x: number, y: number): SVGElement {
  switch (o) {
    case "supple": return svg("circle", { class: "supple", cx: x, cy: y, r: 5 });
    case "stiff": return svg("rect", { class: "stiff", x: x - 5, y: y - 5, width: 10, height: 10 });
    case "cracked": return svg("path", { class: "cracked", d: `M${x - 5} ${y - 5}l10 10m-10 0l10 -10` });
  }
}
