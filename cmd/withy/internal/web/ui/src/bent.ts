// How the ribs bent that came out last, and which way round they went in.

import { device } from "./device";
import { side } from "./device-words";
import { byID, el, keyed, setText } from "./dom";
import { teller } from "./hold";
import type { Mark, Outcome, Rib, Status, Told } from "./state";
import { tell } from "./tell";
import { crew as words } from "./words";

const outcomes: Outcome[] = ["supple", "stiff", "cracked"];
const marks: Mark[] = ["port", "starboard"];
const wheres = ["outside", "inside", "snapped"] as const;
const lately = 3; // ribs whose bend may still be told

let cracked = ""; // the rib whose crack is asked about
let again = (): void => {};

/** onCracked has all of this shown again when a crack is asked about, or no more. */
export function onCracked(show: () => void): void {
  again = show;
}

const say = (event: Told): void => void tell(event);

/** back reports whether a rib came out stiff and is still in hand. */
export function back(r: Rib): boolean {
  return r.place === "pulled" && r.outcome === "stiff" && !r.fitted;
}

/** untold are the ribs that were pulled last and may still be told of, the last at the end. */
function untold(s: Status): Rib[] {
  return (s.ribs ?? []).filter((r) => r.place === "pulled" && (!r.outcome || !r.fitted || r.rib === cracked))
    .sort((a, b) => (a.pulled_s ?? 0) - (b.pulled_s ?? 0)).slice(-lately);
}

/** inHand is the rib that came out last, while nobody has told how it bent. */
function inHand(s: Status): Rib | undefined {
  const last = untold(s).at(-1);
  return last && (!last.outcome || last.rib === cracked) ? last : undefined;
}

/** bentLast asks it of the rib in hand right below the call: who has bent one does not look for the question. */
function bentLast(root: HTMLElement, s: Status): void {
  const r = inHand(s);
  root.hidden = r === undefined;
  keyed(root, JSON.stringify([r?.rib, cracked]), () => (r === undefined ? [] : [r.rib === cracked ? crack(r.rib) : el("p", { class: "bend" }, el("b", {}, words.how(r)), choices(r))]));
}

/** bent lists them all; of the last it asks below the call too. */
export function bent(root: Element, s: Status): void {
  bentLast(byID("bent"), s);
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
    : choices(r);
  const way = r.fitted
    ? null
    : el("span", { class: "choice" }, words.went, " ", ...marks.map((m) => teller(side(m, device().sides[m]), () => say({ kind: "fitted", rib: r.rib, mark: m }), { class: m })));
  return el("p", { class: "bend" }, el("b", {}, words.rib(r)), how, back(r) ? el("span", { class: "back" }) : null, way);
}

function choices(r: Rib): HTMLElement {
  return el("span", { class: "choice" }, ...outcomes.map((o) => teller(words.bent[o], () => told(r.rib, o))));
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
