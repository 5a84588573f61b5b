// The alarms: the frame, one word, what to do, and the button that answers.

import { button, byID, el, keyed, setText, svg } from "./dom";
import { teller } from "./hold";
import { alarmKey, type Alarm, type View } from "./state";
import { tell } from "./tell";
import { alarm, alarmTitle, alarmWord, clock } from "./words";

/** alarms shows all that is not normal, the most urgent first. */
export function alarms(v: View): void {
  const over = (a: Alarm): number => Number(a.state === "cleared"); // what nobody heard stays, below what goes on
  const list = [...(v.alarms ?? [])].sort((a, b) => over(a) - over(b));
  const root = byID("alarms");
  const key = list.map((a) => `${alarmKey(a)} ${a.state} ${a.title} ${a.consequence} ${(a.do ?? []).join("|")}`).join("\n");
  keyed(root, key, () => list.map((a, i) => (i === 0 ? large(a) : small(a))));
  list.forEach((a, i) => age(root.children[i], a, v.status.elapsed_s - a.since_s));
  document.body.dataset.alarm = frame(list);
}

/** frame tells how much of the page an alarm takes: all of its edge while nobody has heard it. */
function frame(list: Alarm[]): "none" | "quiet" | "loud" {
  if (list.some((a) => a.state === "raised" && a.priority !== "low")) return "loud";
  return list.length > 0 ? "quiet" : "none";
}

function age(node: Element | undefined, a: Alarm, seconds: number): void {
  const at = node?.querySelector(".since");
  if (at) setText(at, alarm.since(a.state, Math.max(0, seconds)));
}

/** large is the most urgent alarm. */
function large(a: Alarm): HTMLElement {
  return el("article", { class: `alarm ${a.state}`, role: a.state === "raised" ? "alert" : "status" },
    shape(a),
    word(a),
    el("div", { class: "says" },
      el("p", { class: "title" }, alarmTitle(a), state(a)),
      a.state === "cleared" ? null : el("p", {}, a.consequence),
      steps(a)),
    answer(a));
}

/** small is one of the others: a line. */
function small(a: Alarm): HTMLElement {
  return el("article", { class: `alarm line ${a.state}` },
    shape(a), word(a), el("div", { class: "says" }, el("p", {}, alarmTitle(a), state(a)), steps(a)), answer(a));
}

function word(a: Alarm): HTMLElement {
  const text = alarmWord(a);
  return el("strong", { class: text.length > 6 ? "word long" : "word" }, text);
}

function state(a: Alarm): HTMLElement {
  const times = a.count > 1 ? ` ×${a.count}` : "";
  return el("span", { class: "state" }, `${times} ${alarm.states[a.state]} `, el("span", { class: "since" }, clock(0)));
}

/** steps are what to do: nothing any more where it is over. */
function steps(a: Alarm): HTMLElement | null {
  if (a.state === "cleared") return null;
  const todo = (a.do ?? []).slice(0, 3);
  return todo.length === 0 ? null : el("ol", {}, ...todo.map((step) => el("li", {}, step)));
}

function answer(a: Alarm): HTMLElement | null {
  if (a.state === "raised" || a.state === "cleared") return button(alarm.heard, () => void tell({ kind: "heard", alarm: alarmKey(a) }));
  if (a.state === "latched") return teller(alarm.over, () => void tell({ kind: "reset", alarm: alarmKey(a) }));
  return null;
}

/** shape tells danger, the kettle and the rest apart without colour or words. */
function shape(a: Alarm): SVGElement {
  const paths: Record<string, string> = {
    danger: "M20 3 38 36H2ZM20 14v11M20 29v3",
    kettle: "M8 16h20l4 20H6ZM28 20l8-6M12 16c0-8 12-8 12 0M18 8V5",
  };
  const path = paths[a.sound ?? ""] ?? "M20 3 37 20 20 37 3 20ZM20 11v11M20 26v3";
  return svg("svg", { class: "shape", viewBox: "0 0 40 40", "aria-hidden": "true" }, svg("path", { d: path }));
}
