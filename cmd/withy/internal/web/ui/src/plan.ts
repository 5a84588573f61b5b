// The plan of the day, as the daemon reckons it for the box and the ribs as they are:
// what it takes, the curve of the ribs with what is off it, what to cut.

import { before, plan as words } from "./before-words";
import { amount, el, keyed, table } from "./dom";
import { Fetched } from "./fetched";
import type { Step } from "./fold";
import { teller } from "./hold";
import { curve } from "./curve";
import { answer } from "./said";
import { putRight } from "./ribs";

/** PlanRib is one rib on the curve of its boat. */
export interface PlanRib {
  rib: string;
  boat?: string;
  stick?: string;
  station_mm?: number;
  length_mm: number;
  fair_mm?: number; // by the others; absent where too few have a station
  off_mm?: number;
  unfair: boolean;
  meant: boolean;
}

/** PlanCut is blanks of one length, to be cut. */
export interface PlanCut {
  stick?: string;
  thickness_mm?: number;
  width_mm?: number;
  length_mm: number;
  ribs: string[];
  spares: number;
}

/** Plan is the plan of the day. Minutes count from the first rib in. */
export interface Plan {
  ribs: number;
  unfair: { rib: string; length_mm?: number; suggested_mm: number; off_mm: number }[];
  odd_thickness: { rib: string; thickness_mm?: number; suggested_mm: number }[];
  slots: number;
  interval_s: number;
  soak_s: number;
  soak_from: string;
  run_min: number;
  session_min: number;
  water_l: number;
  kettle: { at_min: number; pour_min: number; litres: number }[];
  breaks: { after_ribs: number; heat_off_min: number; fill_min: number; litres: number; again_min: number }[];
  heat: { boiler_w: number; spare_w: number };
  order: { rib: string; slot: string; in_min: number; out_min: number }[];
  limits: string[];
  cut?: PlanCut[];
  curve?: PlanRib[];
}

const mostSpares = 100; // for 100 ribs
const step = 10;

let spares: number | null = null; // for 100 ribs; null: as is usual
const usual = 30;

const known = new Fetched<Plan>(() => (spares === null ? "/api/plan" : `/api/plan?spares_pct=${spares}`), async (r) => (await r.json()) as Plan);

/** planChanged has it reckoned anew the next time that it is looked at. */
export function planChanged(): void {
  known.changed();
}

/** planStep is wrong where none can be made, or a rib is off the curve and not meant to be. */
export function planStep(): Step {
  if (known.failed || (known.value?.unfair.length ?? 0) > 0) return "wrong";
  return known.value ? "good" : "open";
}

/** planGist is its time and its water. */
export function planGist(): string {
  if (known.failed) return words.failedGist;
  return known.value ? words.gist(known.value) : words.unread;
}

/** plan shows it. */
export function plan(root: HTMLElement): void {
  const p = known.get();
  const width = Math.max(260, Math.min(760, root.clientWidth));
  keyed(root, `${known.version} ${width}`, () => {
    if (known.failed) return [el("ul", { class: "mistakes" }, ...(known.why.length > 0 ? known.why : [before.failed]).map((t) => el("li", {}, t)))];
    return p === null ? [el("p", {}, words.asks)] : all(p, width);
  });
}

function all(p: Plan, width: number): Node[] {
  return [
    el("dl", { class: "facts" }, ...words.facts(p).flatMap(([name, says]) => [el("dt", {}, name), el("dd", {}, says)])),
    ...(p.limits.length > 0 ? [el("ul", { class: "mistakes" }, ...p.limits.map((l) => el("li", {}, l)))] : []),
    el("h3", {}, words.kettle),
    el("ul", {}, ...water(p).map((t) => el("li", {}, t))),
    ...curves(p, width),
    sparesAsked(),
    wide(table(words.cut, words.cutColumns, (p.cut ?? []).map((c) => words.cutRow(c)))),
    el("details", { class: "part" }, el("summary", {}, words.order),
      wide(table(words.order, words.orderColumns, p.order.map((o) => [o.rib, o.slot, words.time(o.in_min), words.time(o.out_min)])))),
    el("p", {}, el("a", { class: "print", href: spares === null ? "/plan" : `/plan?spares_pct=${spares}`, target: "_blank", rel: "noopener" }, words.print)),
  ];
}

function water(p: Plan): string[] {
  const lines = [...p.kettle.map(words.kettleOn), ...p.breaks.map(words.breaks)];
  return lines.length === 0 ? [words.noKettle] : [...lines, words.since];
}

function wide(node: HTMLTableElement): HTMLElement {
  return el("div", { class: "wide", tabindex: 0, role: "region", "aria-label": node.caption?.textContent ?? "" }, node);
}

/** curves are the ribs of each boat that has them along her keel, and what is off. */
function curves(p: Plan, width: number): Node[] {
  const placed = (p.curve ?? []).filter((r) => r.station_mm !== undefined && r.fair_mm !== undefined);
  const boats = [...new Set(placed.map((r) => r.boat ?? ""))];
  const odd = placed.filter((r) => r.unfair && !r.meant);
  if (placed.length === 0 && p.odd_thickness.length === 0) return [];
  return [
    ...boats.flatMap((boat) => [el("h3", {}, words.curveOf(boat)), curve(placed.filter((r) => (r.boat ?? "") === boat), width)]),
    odd.length > 0 || p.odd_thickness.length > 0
      ? el("ul", { class: "mistakes" }, ...odd.map(oddRib), ...p.odd_thickness.map((t) => el("li", {}, words.oddThickness(t.rib, t.thickness_mm ?? 0, t.suggested_mm))))
      : el("p", {}, words.fair),
  ];
}

/** oddRib says what is off, and lets it be put right in the table, or be meant. */
function oddRib(r: PlanRib): HTMLElement {
  const put = (column: string, value: string) => (): void => void putRight(r.boat ?? "", r.rib, column, value).then((problem) => answer(problem || words.changed(r.rib), problem !== ""));
  return el("li", {}, words.odd(r), el("div", { class: "choice" },
    teller(words.change(r), put("length_mm", String(Math.round(r.fair_mm ?? r.length_mm))), { "aria-label": words.changeOf(r) }),
    teller(words.meant, put("meant", "yes"), { "aria-label": words.meantOf(r.rib) })));
}

function sparesAsked(): HTMLElement {
  const asked = amount(words.spares, spares ?? usual, step, [0, mostSpares], words.sparesSay);
  asked.node.addEventListener("click", () => {
    if (asked.value() === (spares ?? usual)) return;
    spares = asked.value();
    known.changed();
  });
  return el("div", { class: "group", role: "group", "aria-label": words.spares }, el("b", {}, words.spares), asked.node);
}
