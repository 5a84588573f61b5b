// The alarms: the frame, one word, what to do, and the button that answers.

import { button, byID, el, keyed, setText, svg } from "./dom";
import { teller } from "./hold";
import { alarmKey, type Alarm, type View } from "./state";
import { tell } from "./tell";
import { alarm, alarmTitle, alarmWord, clock } from "./words";

/** loud reports whether an alarm takes all of the page's edge: until it was heard, or is dealt with. */
function loud(a: Alarm): boolean {
  return a.state === "latched" || (a.state === "raised" && a.priority !== "low");
}

/** rank puts what wants somebody first, and what is over and was not heard below all that goes on. */
function rank(a: Alarm): number {
  if (a.state === "cleared") return 2;
  return loud(a) ? 0 : 1;
}

/** alarms shows all that is not normal, the most urgent first. */
export function alarms(v: View): void {
  const list = [...(v.alarms ?? [])].sort((a, b) => rank(a) - rank(b));
  const root = byID("alarms");
  const key = list.map((a) => `${alarmKey(a)} ${a.state} ${a.title} ${a.consequence} ${a.off_till_s} ${a.hushed} ${a.first_out} ${(a.do ?? []).join("|")}`).join("\n");
  keyed(root, key, () => {
    const [shown, hushed] = [list.filter((a, i) => i === 0 || a.hushed !== true), list.filter((a, i) => i > 0 && a.hushed === true)];
    return [...shown.map((a, i) => (i === 0 ? large(a) : small(a, list))), ...group(hushed, list)];
  });
  for (const a of list) age(root.querySelector(`[data-key="${CSS.escape(alarmKey(a))}"]`), a, v.status.elapsed_s);
  document.body.dataset.alarm = frame(list);
}

/** frame tells how much of the page the alarms take. */
function frame(list: Alarm[]): "none" | "quiet" | "loud" {
  if (list.some(loud)) return "loud";
  return list.length > 0 ? "quiet" : "none";
}

/** group puts the alarms of a flood that make no sound under one line. */
function group(hushed: Alarm[], list: Alarm[]): HTMLElement[] {
  if (hushed.length === 0) return [];
  return [el("details", { class: "flood" }, el("summary", {}, alarm.hushed(hushed.length)), ...hushed.map((a) => small(a, list)))];
}

function age(node: Element | null, a: Alarm, now: number): void {
  const at = node?.querySelector(".since");
  if (!at) return;
  setText(at, a.off_till_s === undefined ? alarm.since(a.state, Math.max(0, now - a.since_s)) : alarm.again(Math.max(0, a.off_till_s - now)));
}

/** large is the most urgent alarm; why it may be so is for those who have heard it. */
function large(a: Alarm): HTMLElement {
  return el("article", { class: `alarm ${a.state}`, role: a.state === "raised" ? "alert" : "status", "data-key": alarmKey(a) },
    shape(a),
    word(a),
    el("div", { class: "says" },
      el("p", { class: "title" }, alarmTitle(a), state(a)),
      a.state === "raised" || a.state === "cleared" ? null : el("p", { class: "cause" }, a.cause),
      a.state === "cleared" ? null : el("p", {}, a.consequence),
      steps(a)),
    answer(a));
}

/** small is one of the others: a line. Which came first is said where there are several. */
function small(a: Alarm, list: Alarm[]): HTMLElement {
  const first = a.first_out && list.length > 1 ? el("em", { class: "first" }, alarm.first) : null;
  return el("article", { class: `alarm line ${a.state}`, "data-key": alarmKey(a) },
    shape(a), word(a), el("div", { class: "says" }, el("p", {}, alarmTitle(a), state(a), " ", first), steps(a)), answer(a));
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
  if (a.state === "latched") return teller(alarm.over, () => void tell({ kind: "reset", alarm: alarmKey(a) }));
  if (a.state === "off") return null;
  return el("div", { class: "answers" },
    a.state === "heard" ? null : button(alarm.heard, () => void tell({ kind: "heard", alarm: alarmKey(a) })),
    later(a));
}

/** later puts an alarm off, where that may be done. */
function later(a: Alarm): HTMLElement | null {
  const minutes = Math.min(10, a.most_off_min);
  if (minutes <= 0 || a.state === "cleared") return null;
  return button(alarm.later(minutes), () => void tell({ kind: "remind", alarm: alarmKey(a), minutes }), { class: "later" });
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
