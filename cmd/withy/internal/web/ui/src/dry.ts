// The dry run: sticks, no steam, the real sounder. Its rounds teach the pace.

import { dry as words } from "./before-words";
import { el, keyed, setText } from "./dom";
import type { Step } from "./fold";
import { teller } from "./hold";
import { hot, type Dry, type View } from "./state";
import { tell } from "./tell";
import { clock } from "./words";

let listed: number[] = []; // seconds of the rounds that this page saw, the first of them after skipped others
let skipped = 0;

/** dryStep is good once the pace is known. */
export function dryStep(v: View): Step {
  return v.status.dry?.pace_s === undefined ? "open" : "good";
}

/** dryGist is how many rounds there were and how long they take. */
export function dryGist(v: View): string {
  return words.gist(v.status.dry);
}

/** takeRounds keeps the rounds that this page has seen; a dry run that begins anew begins its list anew. */
export function takeRounds(seen: number[], before: number, d: Dry | undefined): { seen: number[]; before: number } {
  const rounds = d?.rounds ?? 0;
  if (rounds < before + seen.length) return takeRounds([], 0, d);
  if (rounds === before + seen.length || d?.last_s === undefined) return { seen, before };
  return rounds === before + seen.length + 1 ? { seen: [...seen, d.last_s], before } : { seen: [d.last_s], before: rounds - 1 };
}

/** dry shows the round that is on in large digits, the one big button, and the rounds. */
export function dry(root: HTMLElement, v: View): void {
  const d = v.status.dry;
  ({ seen: listed, before: skipped } = takeRounds(listed, skipped, d));
  const can = !hot(v.status) && !(v.status.slots ?? []).some((s) => s.rib !== undefined);
  keyed(root, `${d?.on} ${can} ${d === undefined}`, () => (d?.on ? running() : [el("p", {}, words.intro), ...begins(can, d !== undefined), rounds()]));
  if (d?.on) {
    const since = d.since_s ?? 0;
    setText(root.querySelector(".digits") as Element, clock(since));
    setText(root.querySelector(".label") as Element, since < 0 ? words.waits : words.runs);
  }
  const list = root.querySelector(".rounds");
  if (list) keyed(list, JSON.stringify([d, listed]), () => told(d));
}

/** begins is the button that begins one, and where there was one before, what became of it. */
function begins(can: boolean, before: boolean): Node[] {
  const start = teller(words.start, () => void tell({ kind: "dry", on: true }), { class: "main" });
  const forget = before ? [teller(words.forget, () => void tell({ kind: "forget" }))] : [];
  if (!can) return [el("p", {}, words.hot), ...forget];
  return [...(before ? [el("p", {}, words.again)] : []), el("div", { class: "choice" }, start, ...forget)];
}

const rounds = (): HTMLElement => el("div", { class: "rounds" });

function running(): Node[] {
  return [
    el("div", { class: "round" }, el("p", { class: "digits" }), el("p", { class: "label" })),
    el("div", { class: "choice" }, teller(words.back, () => void tell({ kind: "round" }), { class: "main" }), teller(words.end, () => void tell({ kind: "dry", on: false }))),
    el("p", { class: "legend" }, words.key),
    rounds(),
  ];
}

function told(d: Dry | undefined): Node[] {
  if (d === undefined) return [];
  const says = [words.rounds(d.rounds), d.pace_s === undefined ? words.paceLater : words.pace(d.pace_s)];
  return [
    el("p", { role: "status" }, says.join(" ")),
    el("ul", { "aria-label": words.list }, ...listed.map((s, i) => el("li", {}, words.round(skipped + i + 1, s)))),
  ];
}
