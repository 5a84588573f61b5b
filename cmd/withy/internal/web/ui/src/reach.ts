// The ways to reach somebody away from the box: which of them work now, and a test
// message, of which only people can say whether it arrived.

import { el, keyed } from "./dom";
import { teller } from "./hold";
import { answer } from "./said";
import { standing } from "./standing";
import type { Output, Tried, View } from "./state";
import { newID, sendUntilTaken } from "./tell";
import { reach as words } from "./wait-words";

/** ways lists each way with how it does. */
export function ways(root: Element, outputs: Output[]): void {
  const lines = outputs.map((o) => [o.fails || o.late ? "wrong" : o.good_s === undefined ? "open" : "good", words.way(o)] as const);
  keyed(root, JSON.stringify(lines), () => [el("ul", { class: "ways" }, ...lines.map(([step, says]) => el("li", { class: `is-${step}` }, ...standing(step, words.standings), says)))]);
}

/** reached is that list with the button for the test message. */
export function reached(root: Element, v: View): void {
  if (root.childElementCount === 0) root.append(el("div"), sendButton());
  ways(root.children[0] as Element, v.outputs ?? []);
  (root.children[1] as HTMLElement).hidden = !(v.outputs ?? []).some((o) => o.kind !== "heartbeat");
}

let sending = false;

/** sendButton sends a test message to all who are told of alarms. */
export function sendButton(): HTMLElement {
  return el("p", {}, teller(words.send, () => void send()));
}

async function send(): Promise<void> {
  if (sending) return;
  sending = true;
  answer(words.sending, false);
  const { problem, body } = await sendUntilTaken("/api/message", { id: newID() });
  sending = false;
  const tried = ((body as { outputs: Tried[] } | undefined)?.outputs ?? []).filter((t) => t.kind !== "heartbeat");
  answer(problem === "" ? words.sent(tried) : problem, problem !== "" || tried.some((t) => !t.ok));
}
