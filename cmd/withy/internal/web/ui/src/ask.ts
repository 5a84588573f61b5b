// What the crew is asked with dry hands: what was seen at the door and not told, and
// how the ribs bent that nobody said anything of.

import { button, el, keyed, setText } from "./dom";
import { teller } from "./hold";
import type { Outcome, Rib, Told, View } from "./state";
import { tell, tellAll } from "./tell";
import { ask as words, outcomeWords } from "./wait-words";

const outcomes: Outcome[] = ["supple", "stiff", "cracked"];

let bad = ""; // the rib that was not good
let newest: View | null = null;

/** question asks whether what was seen at the door was a pull or a load; it returns whether there is anything to ask. */
export function question(root: Element, v: View): boolean {
  newest = v;
  const p = v.status.proposal;
  keyed(root, p ? `${p.do} ${p.rib} ${p.slot}` : "", () => (p === undefined ? [] : [
    el("p", { class: "question" }),
    el("div", { class: "choice" }, teller(words.yes, () => answer(true), { class: "main" }), teller(words.no, () => answer(false))),
  ]));
  const sentence = root.querySelector(".question");
  if (sentence) setText(sentence, v.asks ?? "");
  return p !== undefined;
}

function answer(yes: boolean): void {
  const p = newest?.status.proposal;
  if (!p) return;
  void tell(reply(p, yes));
}

/** reply is the event that answers a proposal. */
function reply(p: NonNullable<View["status"]["proposal"]>, yes: boolean): Told {
  const earlier_s = p.ago_s;
  if (!yes) return { kind: "peeped", earlier_s };
  return p.do === "pull" ? { kind: "pulled", slot: p.slot, earlier_s } : { kind: "loaded", rib: p.rib, slot: p.slot, earlier_s };
}

/** allGood asks at a break, and after the last rib, after those that nobody told of. */
export function allGood(root: Element, v: View): boolean {
  newest = v;
  const list = quiet(v) ? untold(v.status.ribs ?? []) : [];
  if (!list.includes(bad)) bad = "";
  keyed(root, JSON.stringify([list, bad]), () => (list.length === 0 ? [] : ask(list)));
  return list.length > 0;
}

/** quiet reports whether nobody is at the door now. */
function quiet(v: View): boolean {
  const next = v.status.calls?.[0]?.do;
  return v.status.resting || next === "done" || next === "hold";
}

/** untold are the ribs that were pulled and not told of, in the order of their pulls. */
function untold(ribs: Rib[]): string[] {
  return ribs.filter((r) => r.place === "pulled" && !r.outcome).sort((a, b) => (a.pulled_s ?? 0) - (b.pulled_s ?? 0)).map((r) => r.rib);
}

function ask(list: string[]): (Node | string)[] {
  const good = list.filter((rib) => rib !== bad);
  const events = good.map((rib): Told => ({ kind: "outcome", rib, outcome: "supple" }));
  const all = teller(words.all(good.length), () => void tellAll(events, words.toldAll(good)), { class: "main" });
  return [
    good.length === 0 ? "" : el("p", { class: "question" }, words.allGood(good)),
    el("div", { class: "choice" }, good.length === 0 ? "" : all, ...list.map(notGood)),
    bad === "" ? "" : how(bad),
  ];
}

/** notGood is the button that takes a rib out of those that were good, and puts it back. */
function notGood(rib: string): HTMLElement {
  const b: HTMLButtonElement = button(words.bad(rib), () => {
    bad = bad === rib ? "" : rib;
    const place = b.closest(".untold");
    if (place && newest) allGood(place, newest);
  }, { "aria-pressed": String(rib === bad) });
  return b;
}

function how(rib: string): HTMLElement {
  return el("div", { class: "choice" }, el("b", {}, words.how(rib)),
    ...outcomes.map((outcome) => teller(outcomeWords[outcome], () => void tell({ kind: "outcome", rib, outcome }))));
}
