// The next thing to do, in large type: how long, which rib, which slot, which way
// round.

import { device } from "./device";
import { hand as handWords, side } from "./device-words";
import { byID, el, keyed, setText } from "./dom";
import { inHand, type InHand } from "./hand";
import { teller } from "./hold";
import { sideEdge } from "./lie";
import { keepAway, pulled, type Call, type Mark, type View } from "./state";
import { tell } from "./tell";
import { call as words, clock, digits, warming } from "./words";

const soon = 30; // s before a pull at which it is read out again
const atFirst = 3; // pulls with the caution beside them, at the start and after a break

let resting = false;
let pulledBefore = 0; // a break, or the start

/** call shows the next call; while the box may be under pressure, none to the door. */
export function call(v: View): void {
  if (resting && !v.status.resting) pulledBefore = pulled(v.status);
  resting = v.status.resting;
  const root = byID("call");
  const next = v.status.calls?.[0];
  const danger = keepAway(v);
  root.classList.toggle("away", danger);
  const held = danger ? undefined : atTheBoat(v);
  edge(danger ? undefined : held ? held.mark || undefined : next?.do === "pull" ? next.mark : undefined);
  if (danger) return keyed(root, "away", away);
  if (held) return hand(root, held);
  if (!next) return keyed(root, "none", () => [el("p", { class: "says" }, words.noneYet)]);

  const careful = next.do === "pull" && pulled(v.status) - pulledBefore < atFirst;
  keyed(root, JSON.stringify([next.do, next.rib, next.slot, next.mark, next.sure, careful, device().sides]), () => build(next, careful));
  const shown = digits(next, v.status);
  figures(root, shown.figure, shown.label, shown.late);
  put(root, ".good", next.do === "pull" && !shown.late && next.in_s !== undefined && v.status.phase !== "blind" ? words.good(next.good_s) : "");
  put(root, ".says", plain(next, v) ? "" : sentence(v));
  put(root, ".unseen", sentence(v), `${next.do} ${next.rib} ${next.slot} ${shown.late} ${next.too_far} ${(next.in_s ?? 0) < soon} ${v.status.heat_off}`);
  put(root, ".work", words.work(v.status.out_of_box));
  put(root, ".then", next.do === "wait" ? warming(v.status) : v.says?.[1] ? words.then(v.says[1]) : "");
}

/** atTheBoat is the rib in hand, where this screen stands at the boat and is looked at from afar. */
function atTheBoat(v: View): InHand | undefined {
  return device().place === "boat" && document.body.classList.contains("far") ? inHand(v.status) : undefined;
}

/** hand shows the rib in hand: how long it can be worked, in the place of the next call. */
function hand(root: Element, h: InHand): void {
  keyed(root, `hand ${h.rib} ${h.mark}`, () => [
    el("div", { class: "figures" }, el("p", { class: "digits" }), el("p", { class: "label" })),
    el("div", { class: "which" }, el("p", { class: "rib" }, handWords.rib(h)), el("p", { class: "unseen", "aria-live": "polite" }, handWords.says(h))),
  ]);
  figures(root, clock(h.left_s), handWords.stages[h.stage], false);
}

/** figures writes the large digits, solid or hollow, and what they count. */
function figures(root: Element, text: string, label: string, late: boolean): void {
  const figure = root.querySelector(".digits");
  if (figure) {
    setText(figure, text);
    figure.setAttribute("data-length", String(text.length));
    figure.toggleAttribute("data-word", /[a-z]/.test(text));
  }
  root.classList.toggle("late", late);
  put(root, ".label", label);
}

function sentence(v: View): string {
  return v.status.phase === "blind" ? words.blindly(v.status) : (v.says?.[0] ?? "");
}

/** plain reports whether the large type says all that the sentence does. */
function plain(c: Call, v: View): boolean {
  return (c.do === "pull" || c.do === "load") && c.sure && !c.too_far && c.in_s !== undefined && v.status.phase !== "blind";
}

/** put writes a text; one with a key only when the key has changed, so that it is not read out each second. */
function put(root: Element, selector: string, text: string, key = text): void {
  const node = root.querySelector(selector);
  if (node) keyed(node, key, () => [text]);
}

/** edge colours a whole edge of the screen: red to port, green to starboard, on the hand where that lies. */
function edge(mark: Mark | undefined): void {
  document.body.dataset.mark = mark ?? "";
  for (const node of document.querySelectorAll<HTMLElement>(".edge")) {
    const its = node.classList.contains("port") ? "port" : "starboard";
    node.dataset.at = sideEdge(device().lies, its);
    keyed(node, device().sides[its], () => [its === "port" ? words.port : words.starboard, el("small", {}, device().sides[its])]);
    if (its === mark) document.body.dataset.edge = node.dataset.at;
  }
}

function away(): Node[] {
  return [el("p", { class: "rib" }, words.away), el("p", { class: "says" }, words.awaySays)];
}

function build(c: Call, careful: boolean): Node[] {
  const figures = el("div", { class: "figures" }, el("p", { class: "digits" }), el("p", { class: "label" }), el("p", { class: "good" }));
  const which = el("div", { class: "which" });
  if (c.do === "pull" || c.do === "load") {
    const text = c.do === "load" ? words.load(c) : words.rib(c);
    which.append(el("p", { class: "rib", "data-length": text.length > 8 ? "long" : text.length },
      el("span", {}, text), el("b", { class: "plate" }, c.slot ?? "?")));
    if (!c.sure) which.append(el("p", { class: "unsure" }, `? ${words.notSure}`));
    const way = c.do === "load" ? words.towards : c.mark ? words.mark(side(c.mark, device().sides[c.mark])) : "";
    which.append(el("p", { class: `mark ${c.mark ?? ""}` }, way));
  }
  which.append(el("p", { class: "says" }), el("p", { class: "unseen", "aria-live": "polite" }));
  if (careful) which.append(el("p", { class: "careful" }, words.hinge));
  const done = did(c);
  if (done) which.append(done);
  which.append(el("p", { class: "then" }));
  if (c.do === "pull") which.append(el("p", { class: "work" }));
  return [figures, which];
}

/** did is the button that says the call was followed. */
function did(c: Call): HTMLButtonElement | null {
  if (c.do === "dry") return teller(words.back, () => void tell({ kind: "round" }), { class: "main" });
  const { rib, slot } = c;
  if (rib === undefined || slot === undefined) return null;
  if (c.do === "pull") return teller(words.pulled(c), () => void tell({ kind: "pulled", slot }), { class: "main" });
  if (c.do === "load") return teller(words.loaded(c), () => void tell({ kind: "loaded", rib, slot }), { class: "main" });
  return null;
}
