// Another boat: the log that goes on ends, and a new one begins. It takes two presses, the
// second below what will come of it.

import { nextBoat as words } from "./after-words";
import { button, el, keyed } from "./dom";
import { teller } from "./hold";
import { answer } from "./said";
import type { View } from "./state";
import { newID, sendUntilTaken } from "./tell";

let asks = false; // the first press was made
let newest: { root: HTMLElement; v: View } | null = null;

/** nextBoat fills its fold: what will come of it, what of the ribs that lie in the box, and the two presses. */
export function nextBoat(root: HTMLElement, v: View): void {
  newest = { root, v };
  const inside = (v.status.slots ?? []).flatMap((s) => s.rib ?? []);
  const waits = v.status.bent.to_go - inside.length;
  keyed(root, JSON.stringify([asks, inside, waits, v.session]), () => [
    el("p", {}, words.says),
    ...(asks ? sure(inside, waits) : [el("div", { class: "choice" }, teller(words.begin, () => ask(true)))]),
  ]);
}

function sure(inside: string[], waits: number): HTMLElement[] {
  return [
    el("p", { class: "question", role: "status" }, [words.inside(inside), words.waits(waits), words.sure].filter((t) => t !== "").join(" ")),
    el("div", { class: "choice" },
      teller(inside.length > 0 ? words.out(inside) : words.yes, () => void begin(inside.length > 0), { class: "main" }),
      button(words.no, () => ask(false))),
  ];
}

function ask(is: boolean): void {
  asks = is;
  if (newest) nextBoat(newest.root, newest.v);
}

async function begin(out: boolean): Promise<void> {
  const { problem } = await sendUntilTaken("/api/session", { id: newID(), out });
  answer(problem === "" ? words.begun : problem, problem !== "");
  ask(false);
  const fold = newest?.root.closest("details");
  if (fold && problem === "") fold.open = false;
}
