// What the crew did: a row for ribs, one for how they bent, one for the water, one
// for the day. A row is made anew only when its buttons change.

import { button, byID, el, keyed, setText } from "./dom";
import { keepAway, type Mark, type Outcome, type Rib, type Slot, type Status, type Told, type View } from "./state";
import { tell } from "./tell";
import { crew as words } from "./words";

const outcomes: Outcome[] = ["supple", "stiff", "cracked"];
const marks: Mark[] = ["port", "starboard"];
const wheres = ["outside", "inside", "snapped"] as const;
const lately = 3; // ribs whose bend may still be told

let litres = 0; // as the crew set it; 0 before it did
let chosen = ""; // the blank that goes in next, where it is not the first waiting
let cracked = ""; // the rib whose crack is asked about
let asked = false; // "can I stop?" is open
let newest: View | null = null;

const say = (event: Told): void => void tell(event);

/** crew shows what can be told now. */
export function crew(v: View): void {
  newest = v;
  const root = byID("crew");
  if (root.childElementCount === 0) {
    root.append(el("h2", {}, words.title), ...["ribs", "bent", "pot", "day"].map((c) => el("div", { class: c })));
  }
  const [, ribRow, bentRow, waterRow, dayRow] = Array.from(root.children) as [Element, Element, Element, Element, Element];
  ribs(ribRow, v);
  bent(bentRow, v.status);
  pot(waterRow, v.status);
  day(dayRow, v);
}

function again(): void {
  if (newest) crew(newest);
}

function group(name: string, ...children: (Node | null)[]): HTMLElement {
  return el("div", { class: "group", role: "group", "aria-label": name }, el("h3", {}, name), ...children);
}

function ribs(root: Element, v: View): void {
  const slots = v.status.slots ?? [];
  const waiting = (v.status.ribs ?? []).filter((r) => r.place === "waiting").map((r) => r.rib);
  const next = waiting.includes(chosen) ? chosen : (waiting[0] ?? "");
  const away = keepAway(v);
  const key = JSON.stringify([slots.map((s) => [s.slot, s.rib]), waiting, next, away]);
  keyed(root, key, () => {
    if (away) return [el("p", { class: "careful" }, words.away)];
    const free = slots.filter((s) => s.rib === undefined);
    return [pulledGroup(slots.filter((s) => s.rib !== undefined)), free.length > 0 && next !== "" ? loadedGroup(free, waiting, next) : null];
  });
}

function pulledGroup(full: Slot[]): HTMLElement | null {
  if (full.length === 0) return null;
  return group(words.pulled, ...full.map((s) => button(words.pulledRib(s), () => say({ kind: "pulled", slot: s.slot }))));
}

function loadedGroup(free: Slot[], waiting: string[], next: string): HTMLElement {
  const select = el("select", { "aria-label": words.loaded },
    ...waiting.map((rib) => el("option", { value: rib, selected: rib === next }, `rib ${rib}`)));
  select.addEventListener("change", () => (chosen = select.value));
  const into = free.map((s) => button(words.into(s.slot), () => say({ kind: "loaded", rib: select.value, slot: s.slot })));
  return group(words.loaded, select, ...into);
}

/** untold are the ribs that were pulled last and may still be told of, the last at the end. */
function untold(s: Status): Rib[] {
  return (s.ribs ?? []).filter((r) => r.place === "pulled" && (!r.outcome || !r.fitted || r.rib === cracked))
    .sort((a, b) => (a.pulled_s ?? 0) - (b.pulled_s ?? 0)).slice(-lately);
}

function bent(root: Element, s: Status): void {
  const list = untold(s);
  const key = JSON.stringify([list.map((r) => [r.rib, r.outcome, r.fitted, r.mark]), cracked]);
  keyed(root, key, () => [el("h3", {}, words.ribs), ...(list.length > 0 ? list.map(bend) : [el("p", {}, words.nobody)])]);
}

function bend(r: Rib): HTMLElement {
  if (r.rib === cracked) return crack(r.rib);
  const how = r.outcome
    ? el("b", { class: "told" }, words.bent[r.outcome])
    : el("span", { class: "choice" }, ...outcomes.map((o) => button(words.bent[o], () => told(r.rib, o))));
  const way = r.fitted
    ? null
    : el("span", { class: "choice" }, words.went, " ", ...marks.map((m) => button(m, () => say({ kind: "fitted", rib: r.rib, mark: m }), { class: m })));
  return el("p", { class: "bend" }, el("b", {}, words.rib(r)), how, way);
}

function told(rib: string, outcome: Outcome): void {
  if (outcome !== "cracked") return say({ kind: "outcome", rib, outcome });
  cracked = rib;
  again();
}

/** crack asks where, since the outside says another thing than the inside. */
function crack(rib: string): HTMLElement {
  const done = (where?: string): void => {
    cracked = "";
    say({ kind: "outcome", rib, outcome: "cracked", ...(where === undefined ? {} : { where }) });
    again();
  };
  return el("p", { class: "bend" }, el("b", {}, words.cracked(rib)),
    el("span", { class: "choice" }, ...wheres.map((w) => button(words.wheres[w], () => done(w))), button(words.unknown, () => done())));
}

function pot(root: Element, s: Status): void {
  if (litres === 0) litres = s.water.kettle_l;
  const refill = s.boiler_kind === "open-pot";
  keyed(root, JSON.stringify([refill, s.heat_off]), () => {
    const shown = el("output", {}, label());
    const step = (by: number): void => {
      litres = Math.min(50, Math.max(0.5, litres + by));
      setText(shown, label());
    };
    const amount = el("span", { class: "amount" },
      button("−", () => step(-0.5), { "aria-label": words.less }), shown, button("+", () => step(0.5), { "aria-label": words.more }));
    return [group(words.water, amount,
      refill ? button(words.refilled, () => say({ kind: "refilled", litres })) : null,
      button(words.filled, () => say({ kind: "filled", litres })),
      button(words.level, () => say({ kind: "level", litres })),
      button(words.kettle, () => say({ kind: "kettle" })),
      s.heat_off
        ? button(words.heatOn, () => say({ kind: "heat", on: true }))
        : button(words.heatOff, () => say({ kind: "heat", on: false })))];
  });
}

function label(): string {
  return `${litres.toFixed(1)} ${words.litres}`;
}

function day(root: Element, v: View): void {
  const { resting, phase, warm_up: warm } = v.status;
  const early = (phase === "warming" || phase === "cold") && warm.ready_s === undefined;
  keyed(root, JSON.stringify([resting, early, asked]), () => [
    group(words.day,
      button(words.stop, () => { asked = !asked; again(); }, { "aria-expanded": String(asked) }),
      resting ? button(words.back, () => say({ kind: "back" })) : button(words.rest, () => say({ kind: "break" })),
      early ? button(words.start, () => say({ kind: "start" })) : null),
    asked ? el("p", { class: "stop", role: "status" }) : null,
  ]);
  const answer = root.querySelector(".stop");
  if (answer) setText(answer, v.stop_says);
}
