// The session so far: both ends, boiling, and what the crew did, to look closer at
// by dragging.

import uPlot from "uplot";
import "uplot/dist/uPlot.min.css";
import { byID, el, setText, table } from "./dom";
import { inScale, scale } from "./measure";
import { readings } from "./readings";
import type { Trace, TraceEvent, View } from "./state";
import { hours, past as words } from "./words";

const every = 15_000; // ms between two looks at the log
const height = 260;
const rows = 12; // of the table that says the same
const steps = [1, 5, 10, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200]; // s between two ticks

let plot: uPlot | null = null;
let events: TraceEvent[] = [];
let boilingC = 100;
let zoomed: { from: number; to: number } | null = null;
let asked = 0;
let inSight = false;
let session = "";

/** graph makes the place for the graph; it loads once it comes into sight. */
export function graph(): void {
  const root = byID("past");
  root.append(el("h2", {}, words.title), el("div", { id: "plot", role: "img", "aria-label": words.label }), el("div", { id: "plot-table", class: "unseen" }), el("p", { id: "plot-says", role: "status" }, words.help));
  const place = byID("plot");
  new IntersectionObserver((seen) => {
    inSight = seen.some((s) => s.isIntersecting);
    if (inSight) void load();
  }).observe(root);
  new ResizeObserver(() => plot?.setSize({ width: place.clientWidth, height })).observe(place);
  setInterval(() => { if (inSight && !zoomed && document.visibilityState === "visible") void load(); }, every);
}

/** graphRedraws draws it again, in the colours that the page has now. */
export function graphRedraws(): void {
  plot?.destroy();
  plot = null;
  if (inSight) void load();
}

/** graphFollows keeps the graph to the session that is shown. */
export function graphFollows(v: View): void {
  boilingC = v.status.boiling_c;
  if (v.session === session) return;
  session = v.session;
  zoomed = null;
  if (inSight) void load();
}

async function load(): Promise<void> {
  const place = byID("plot");
  const most = Math.max(100, Math.min(2000, Math.round(place.clientWidth * 1.5)));
  const query = new URLSearchParams({ most: String(most) });
  if (zoomed) {
    query.set("from", zoomed.from.toFixed(1));
    query.set("to", zoomed.to.toFixed(1));
  }
  const mine = ++asked;
  try {
    const response = await fetch(`/api/trace?${query}`, { signal: AbortSignal.timeout(10_000) });
    if (!response.ok) throw new Error(String(response.status));
    const trace = (await response.json()) as Trace;
    if (mine === asked) show(trace);
  } catch {
    setText(byID("plot-says"), words.failed);
  }
}

function show(trace: Trace): void {
  const times = trace.elapsed_s ?? [];
  setText(byID("plot-says"), times.length === 0 ? words.none : words.help);
  if (times.length === 0) return;
  const probes = (trace.probes ?? []).map((row) => row.map((c) => (c === null ? null : inScale(c))));
  const missing = times.map(() => null);
  events = trace.events ?? [];
  const data: uPlot.AlignedData = [times, probes[0] ?? missing, probes[probes.length - 1] ?? missing, times.map(() => inScale(boilingC))];
  if (plot) plot.setData(data);
  else plot = make(data);
  byID("plot-table").replaceChildren(table(words.table, [words.time, words.steam, words.door], readings(trace, rows)));
}

function colour(name: string): string {
  return getComputedStyle(document.documentElement).getPropertyValue(`--${name}`).trim();
}

function make(data: uPlot.AlignedData): uPlot {
  const place = byID("plot");
  const ink = colour("ink");
  const axis = { stroke: ink, grid: { stroke: colour("line"), width: 1 }, ticks: { stroke: colour("line") }, font: "14px sans-serif" };
  const reading = (_: uPlot, v: number | null): string => (v === null ? "–" : `${v.toFixed(1)} ${scale()}`);
  const options: uPlot.Options = {
    width: place.clientWidth,
    height,
    scales: { x: { time: false }, y: { range: (_, lo, hi) => [Math.floor(lo - 1), Math.ceil(hi + 1)] } },
    axes: [
      { ...axis, incrs: steps, space: 76, values: (_, ticks) => ticks.map((t) => hours(t, (ticks[1] ?? 60) - (ticks[0] ?? 0) < 60)) },
      { ...axis, size: 62, values: (_, ticks) => ticks.map((t) => `${t} ${scale()}`) },
    ],
    series: [
      { label: words.time, value: (_, t: number | null) => (t === null ? "–" : hours(t, true)) },
      { label: words.steam, stroke: colour("steam"), width: 2, value: reading },
      { label: words.door, stroke: colour("oak"), width: 2, dash: [8, 4], value: reading },
      { label: words.boiling, stroke: ink, width: 1, dash: [2, 4], value: reading },
    ],
    cursor: { drag: { x: true, y: false } },
    hooks: { draw: [marks], setSelect: [closer] },
  };
  const made = new uPlot(options, data, place);
  made.root.querySelector(".u-legend")?.setAttribute("aria-hidden", "true"); // the table says it
  made.over.addEventListener("dblclick", () => { zoomed = null; void load(); });
  return made;
}

/** closer asks for the stretch that was dragged across in full. */
function closer(u: uPlot): void {
  if (u.select.width < 8) return;
  zoomed = { from: Math.max(0, u.posToVal(u.select.left, "x")), to: u.posToVal(u.select.left + u.select.width, "x") };
  void load();
}

/** marks draws what the crew did: loads point up into the box, pulls down out of it, water is a drop. */
function marks(u: uPlot): void {
  const c = u.ctx;
  const size = 6 * devicePixelRatio;
  c.save();
  c.beginPath();
  c.rect(u.bbox.left, u.bbox.top, u.bbox.width, u.bbox.height);
  c.clip();
  c.font = `${12 * devicePixelRatio}px sans-serif`;
  c.textAlign = "center";
  for (const e of events) {
    if (!(e.event.kind in words.marks)) continue;
    mark(c, e, Math.round(u.valToPos(e.elapsed_s, "x", true)), u.bbox.top + u.bbox.height, size);
  }
  c.restore();
}

function mark(c: CanvasRenderingContext2D, e: TraceEvent, x: number, bottom: number, size: number): void {
  const kind = e.event.kind;
  const water = kind === "refilled" || kind === "filled" || kind === "kettle";
  const y = bottom - size * (water ? 2 : kind === "loaded" ? 4.5 : 7);
  const way = kind === "loaded" ? -1 : 1;
  c.fillStyle = colour(water ? "water" : "ink");
  c.beginPath();
  if (water) c.arc(x, y, size * 0.8, 0, 2 * Math.PI);
  else {
    c.moveTo(x, y + way * size);
    c.lineTo(x - size, y - way * size * 0.7);
    c.lineTo(x + size, y - way * size * 0.7);
  }
  c.fill();
}
