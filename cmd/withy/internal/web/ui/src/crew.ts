// What the crew did: a row for ribs, one for how they bent, one for the water, one
// for the day. A row is made anew only when its buttons change.

import { device } from "./device";
import { hold as holdWords, side } from "./device-words";
import { amount, button, byID, choice, el, group, keyed, setText, type Amount } from "./dom";
import { teller } from "./hold";
import { vessel, type Vessel } from "./measure";
import { keepAway, type Mark, type Outcome, type Rib, type Slot, type Status, type Told, type View } from "./state";
import { tell } from "./tell";
import { crew as words } from "./words";

const outcomes: Outcome[] = ["supple", "stiff", "cracked"];
const marks: Mark[] = ["port", "starboard"];
const wheres = ["outside", "inside", "snapped"] as const;
const lately = 3; // ribs whose bend may still be told

let poured: { amount: Amount; by: Vessel; fullL: number; cold: boolean } | null = null; // as the crew set it
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
    root.append(el("h2", {}, words.title), el("p", { class: "hold" }, holdWords.how), ...["ribs", "bent", "pot", "day"].map((c) => el("div", { class: c })));
  }
  const [, , ribRow, bentRow, waterRow, dayRow] = Array.from(root.children) as [Element, Element, Element, Element, Element, Element];
  ribs(ribRow, v);
  bent(bentRow, v.status);
  pot(waterRow, v.status);
  day(dayRow, v);
}

function again(): void {
  if (newest) crew(newest);
}

function ribs(root: Element, v: View): void {
  const slots = v.status.slots ?? [];
  const blanks = loadable(v.status.ribs ?? []);
  const next = blanks.some(([rib]) => rib === chosen) ? chosen : (blanks[0]?.[0] ?? "");
  const early = v.status.try?.slot;
  const away = keepAway(v);
  const key = JSON.stringify([slots.map((s) => [s.slot, s.rib]), blanks, next, early, away]);
  keyed(root, key, () => {
    if (away) return [el("p", { class: "careful" }, words.away)];
    const free = slots.filter((s) => s.rib === undefined);
    return [pulledGroup(slots.filter((s) => s.rib !== undefined), early), free.length > 0 && next !== "" ? loadedGroup(free, blanks, next) : null];
  });
}

/** loadable are the ribs that may go in: those that wait, then the stiff ones that may go back. */
function loadable(ribs: Rib[]): [rib: string, text: string][] {
  const waiting = ribs.filter((r) => r.place === "waiting").map((r): [string, string] => [r.rib, words.rib(r)]);
  return [...waiting, ...ribs.filter(back).map((r): [string, string] => [r.rib, words.again(r.rib)])];
}

/** back reports whether a rib came out stiff and is still in hand. */
function back(r: Rib): boolean {
  return r.place === "pulled" && r.outcome === "stiff" && !r.fitted;
}

function pulledGroup(full: Slot[], early: string | undefined): HTMLElement | null {
  if (full.length === 0) return null;
  return group(words.pulled, ...full.map((s) =>
    teller(s.slot === early ? words.tryEarly(s) : words.pulledRib(s), () => say({ kind: "pulled", slot: s.slot }))));
}

function loadedGroup(free: Slot[], blanks: [string, string][], next: string): HTMLElement {
  const select = choice(words.loaded, blanks, next);
  select.addEventListener("change", () => (chosen = select.value));
  const into = free.map((s) => teller(words.into(s.slot), () => say({ kind: "loaded", rib: select.value, slot: s.slot })));
  return group(words.loaded, select, ...into);
}

/** untold are the ribs that were pulled last and may still be told of, the last at the end. */
function untold(s: Status): Rib[] {
  return (s.ribs ?? []).filter((r) => r.place === "pulled" && (!r.outcome || !r.fitted || r.rib === cracked))
    .sort((a, b) => (a.pulled_s ?? 0) - (b.pulled_s ?? 0)).slice(-lately);
}

function bent(root: Element, s: Status): void {
  const list = untold(s);
  const key = JSON.stringify([list.map((r) => [r.rib, r.outcome, r.fitted, r.mark]), cracked, device().sides]);
  keyed(root, key, () => [el("h3", {}, words.ribs), ...(list.length > 0 ? list.map(bend) : [el("p", {}, words.nobody)])]);
  const stiff = list.filter((r) => back(r) && r.rib !== cracked);
  root.querySelectorAll(".back").forEach((node, i) => setText(node, stiff[i]?.resteam_s === undefined ? "" : words.backIn(stiff[i].resteam_s)));
}

function bend(r: Rib): HTMLElement {
  if (r.rib === cracked) return crack(r.rib);
  const how = r.outcome
    ? el("b", { class: "told" }, words.bent[r.outcome])
    : el("span", { class: "choice" }, ...outcomes.map((o) => teller(words.bent[o], () => told(r.rib, o))));
  const way = r.fitted
    ? null
    : el("span", { class: "choice" }, words.went, " ", ...marks.map((m) => teller(side(m, device().sides[m]), () => say({ kind: "fitted", rib: r.rib, mark: m }), { class: m })));
  return el("p", { class: "bend" }, el("b", {}, words.rib(r)), how, back(r) ? el("span", { class: "back" }) : null, way);
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
    el("span", { class: "choice" }, ...wheres.map((w) => teller(words.wheres[w], () => done(w))), teller(words.unknown, () => done())));
}

function pot(root: Element, s: Status): void {
  const { amount: so, by, fullL, cold } = pouring(s);
  const refill = s.boiler_kind === "open-pot";
  // Once told, it is a kettle again: what was read off a sight tube isn't what goes in next.
  const told = (kind: "refilled" | "filled" | "level") => (): void => {
    const litres = Math.round(so.value() * by.litres * 1000) / 1000;
    void tell({ kind, litres }).then((problem) => { if (problem === "") so.reset(); });
  };
  keyed(root, JSON.stringify([refill, s.heat_off, by.name, fullL, cold]), () => [group(words.water, so.node,
    refill ? teller(words.refilled, told("refilled")) : null,
    teller(words.filled, told("filled")),
    teller(words.level, told("level")),
    teller(words.kettle, () => say({ kind: "kettle" })),
    s.heat_off
      ? teller(words.heatOn, () => say({ kind: "heat", on: true }))
      : teller(words.heatOff, () => say({ kind: "heat", on: false })))]);
}

/**
 * pouring is how much water is told of: all that the boiler holds while it doesn’t boil, before the first steam or with
 * its heat off, else a kettle of it; by halves of what volumes are typed in, and no more than the boiler or the kettle holds.
 */
function pouring(s: Status): { amount: Amount; by: Vessel; fullL: number; cold: boolean } {
  const [by, w] = [vessel(), s.water];
  const cold = !w.boiling && (s.heat_off || s.warm_up.first_steam_s === undefined);
  if (poured?.by.name === by.name && poured.fullL === w.full_l && poured.cold === cold) return poured;
  const kettle = Math.max(1, Math.round((2 * w.kettle_l) / by.litres)) / 2;
  const most = Math.max(kettle, w.full_l / by.litres);
  poured = { by, fullL: w.full_l, cold, amount: amount(words.poured, cold ? most : kettle, 0.5, [0.5, most], (n) => `${n.toFixed(1)} ${by.name}`) };
  return poured;
}

function day(root: Element, v: View): void {
  const { resting, phase, warm_up: warm } = v.status;
  const early = (phase === "warming" || phase === "cold") && warm.ready_s === undefined;
  keyed(root, JSON.stringify([resting, early, asked]), () => [
    group(words.day,
      button(words.stop, () => { asked = !asked; again(); }, { "aria-expanded": String(asked) }),
      resting ? teller(words.back, () => say({ kind: "back" })) : teller(words.rest, () => say({ kind: "break" })),
      early ? teller(words.start, () => say({ kind: "start" })) : null),
    asked ? el("p", { class: "stop", role: "status" }) : null,
  ]);
  const answer = root.querySelector(".stop");
  if (answer) setText(answer, v.stop_says);
}
