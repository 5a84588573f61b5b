// All boxes of the shop on one page, for the wall or for whoever goes round.

import "./css/base.css";
import "./css/shop.css";
import { device, onDevice } from "./device";
import { byID, el, keyed, setText } from "./dom";
import { wearLook } from "./look";
import { measureIn } from "./measure";
import type { Shop, ShopBox } from "./shop-state";
import { call as callWords } from "./words";
import { figure, shop as words } from "./shop-words";

const every = 1000; // ms between two looks
const patience = 4000; // ms that an answer is waited for
const lostAfter = 5000; // ms without one, before what is shown counts as old

let newest: Shop | null = null;
let heardAt = performance.now();

/** show shows the shop; what did not change stays as it is. */
function show(s: Shop): void {
  const { units } = device();
  measureIn(units === "shop" ? s.units || "metric" : units);
  const none = byID("none");
  none.hidden = s.boxes.length > 0;
  setText(none, words.none);
  const kettle = byID("kettle");
  kettle.hidden = !s.kettle;
  setText(kettle, s.kettle ?? "");
  const list = byID("boxes");
  keyed(list, s.boxes.map((b) => b.number).join(), () => s.boxes.map(() => el("li", { class: "place" })));
  s.boxes.forEach((b, i) => row(list.children[i] as HTMLElement, b));
  keyed(byID("circuits"), JSON.stringify([s.circuits, units]), () => s.circuits.map((c) =>
    el("li", { class: c.trips ? "trips" : c.close ? "close" : undefined }, c.says)));
  const rehearsal = byID("rehearsal");
  rehearsal.hidden = !s.boxes.some((b) => b.rehearsal);
  setText(rehearsal, rehearsal.hidden ? "" : words.rehearsal);
}

/** row is one box: its number, what it calls for, whose rib, and how it stands. */
function row(node: HTMLElement, b: ShopBox): void {
  const f = figure(b);
  node.className = ["place", b.silent ? "silent" : "", f.late ? "late" : ""].filter((c) => c !== "").join(" ");
  keyed(node, JSON.stringify([f, b, device().units]), () => [
    el("a", { id: `box-${b.number}`, class: "number", href: `${b.at}/`, "aria-label": words.boxName(b) }, String(b.number)),
    el("div", {}, el("p", { class: f.word ? "figure word" : "figure" }, f.figure), el("p", { class: "label" }, f.label)),
    rib(b),
    standing(b),
    wrong(b),
  ]);
}

/** rib is which rib is next, whose, and which way round. */
function rib(b: ShopBox): HTMLElement {
  const c = b.call;
  const lines = el("div", {});
  if (c?.rib !== undefined) {
    lines.append(el("p", { class: "rib" }, el("span", {}, c.do === "load" ? callWords.load(c) : callWords.rib(c)), el("b", { class: "plate" }, c.slot ?? "?")));
    if (!c.sure) lines.append(el("p", {}, `? ${callWords.notSure}`));
  }
  lines.append(el("p", { class: "whose" }, words.whose(b)));
  if (c?.do === "pull" && c.mark) lines.append(el("p", { class: `mark ${c.mark}` }, callWords.mark(device().sides[c.mark] || c.mark)));
  return lines;
}

function standing(b: ShopBox): HTMLElement {
  if (b.silent || !b.heard) return el("div", { class: "standing" });
  const water = [words.left(b), words.dry(b)].filter((t) => t !== "").join(", ");
  return el("div", { class: "standing" }, el("p", {}, words.ends(b)), el("p", { class: "litres" }, water), el("p", {}, words.toGo(b)));
}

/** wrong is the box's most urgent alarm, and what to do. */
function wrong(b: ShopBox): HTMLElement | null {
  const a = b.alarm;
  if (!a) return null;
  const so = a.state === "raised" || a.state === "heard";
  const todo = a.state === "cleared" ? "" : (a.do ?? []).join(" ");
  return el("p", { class: so ? "wrong" : "wrong over", role: so ? "alert" : "status" }, words.alarm(b, a), " ", el("span", {}, todo));
}

/** trust says how old it all is, and takes the life out of what is old. */
function trust(): void {
  const old = performance.now() - heardAt;
  const lost = old > lostAfter;
  document.body.dataset.live = lost ? "lost" : newest ? "live" : "waiting";
  byID("lost").hidden = !lost;
  setText(byID("lost"), lost ? words.lost(old / 1000) : "");
  setText(byID("age"), newest ? (lost ? "not live" : "live") : words.waiting);
}

async function look(): Promise<void> {
  try {
    const answer = await fetch("/api/shop", { signal: AbortSignal.timeout(patience) });
    if (answer.ok) {
      newest = (await answer.json()) as Shop;
      heardAt = performance.now();
      show(newest);
    }
  } catch {
    // trust says that nothing came.
  }
  trust();
  setTimeout(() => void look(), every);
}

wearLook(() => undefined);
onDevice(() => { if (newest) show(newest); });
void look();
