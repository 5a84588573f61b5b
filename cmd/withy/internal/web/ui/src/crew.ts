// What the crew did: a row for ribs, one for how they bent, one for the water, one
// for the day. A row is made anew only when its buttons change.

import { back, bent, onCracked } from "./bent";
import { hold as holdWords } from "./device-words";
import { amount, button, byID, choice, el, group, keyed, setText, type Amount } from "./dom";
import { teller } from "./hold";
import { vessel, type Vessel } from "./measure";
import { keepAway, type Rib, type Slot, type Status, type Told, type View } from "./state";
import { tell } from "./tell";
import { crew as words } from "./words";

let poured: { amount: Amount; by: Vessel; fullL: number; cold: boolean } | null = null; // as the crew set it
let chosen = ""; // the blank that goes in next, where it is not the first waiting
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
onCracked(again);

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
