// The alarms: the frame, one word, what to do, and the button that answers.

import { button, byID, el, keyed, setText, svg } from "./dom";
import { gathered, type Gathered } from "./gathered";
import { teller } from "./hold";
import { alarmKey, type Alarm, type Told, type View } from "./state";
import { tell, tellAll } from "./tell";
import { alarm, alarmTitle, alarmWord, clock, toldSentence } from "./words";

/** loud reports whether an alarm takes all of the page's edge: until it was heard, or is dealt with. */
function loud(a: Alarm): boolean {
  return a.state === "latched" || (a.state === "raised" && a.priority !== "low");
}

/** rank puts what wants somebody first, and what is over and was not heard below all that goes on. */
function rank(a: Alarm): number {
  if (a.state === "cleared") return 2;
  return loud(a) ? 0 : 1;
}

const phone = matchMedia("(max-width: 640px)");

/**
 * alarms shows all that is not normal, the most urgent first; those of one kind as one. On
 * a phone several others are one line, so that the call stays in sight.
 */
export function alarms(v: View): void {
  const list = [...(v.alarms ?? [])].sort((a, b) => rank(a) - rank(b));
  const lines = gathered(list);
  const over = v.status.calls?.[0]?.do === "done";
  const root = byID("alarms");
  const key = list.map((a) => `${alarmKey(a)} ${a.state} ${a.title} ${a.consequence} ${a.off_till_s} ${a.hushed} ${a.first_out} ${(a.do ?? []).join("|")}`).join("\n");
  keyed(root, `${over} ${phone.matches} ${key}`, () => {
    const [first, ...others] = lines;
    if (!first) return [];
    const line = (l: Gathered): HTMLElement => small(l, lines, over);
    const [told, hushed] = [others.filter(([a]) => a.hushed !== true), others.filter(([a]) => a.hushed === true)];
    const more = phone.matches && told.length > 1 ? folded("more", alarm.more(told.map(([a]) => alarmWord(a, over))), told.map(line)) : told.map(line);
    return [large(first, over), ...more, ...folded("hushed", alarm.hushed(hushed.flat().length), hushed.map(line))];
  });
  for (const l of lines) age(root.querySelector(`[data-key="${CSS.escape(alarmKey(l[0]))}"]`), l, v.status.elapsed_s);
  document.body.dataset.alarm = frame(list);
}

/** frame tells how much of the page the alarms take. */
function frame(list: Alarm[]): "none" | "quiet" | "loud" {
  if (list.some(loud)) return "loud";
  return list.length > 0 ? "quiet" : "none";
}

/** folded puts lines under one, which stays open if it was. */
function folded(name: string, summary: string, lines: HTMLElement[]): HTMLElement[] {
  if (lines.length === 0) return [];
  const details = el("details", { class: `others ${name}` }, el("summary", {}, summary), ...lines);
  details.open = document.querySelector<HTMLDetailsElement>(`#alarms .${name}`)?.open ?? false;
  return [details];
}

/** age tells how long the oldest of a line has been so, or when the first that was put off is said again. */
function age(node: Element | null, l: Gathered, now: number): void {
  const at = node?.querySelector(".since");
  if (!at) return;
  const since = now - Math.min(...l.map((a) => a.since_s));
  const again = Math.min(...l.map((a) => a.off_till_s ?? Infinity)) - now;
  setText(at, again === Infinity ? alarm.since(l[0].state, Math.max(0, since)) : alarm.again(Math.max(0, again)));
}

/** large is the most urgent alarm; why it may be so is for those who have heard it. */
function large(l: Gathered, over: boolean): HTMLElement {
  const [a] = l;
  return el("article", { class: `alarm ${a.state}`, role: a.state === "raised" ? "alert" : "status", "data-key": alarmKey(a) },
    shape(a),
    word(a, over),
    el("div", { class: "says" },
      el("p", { class: "title" }, alarmTitle(...l), state(l)),
      a.state === "raised" || a.state === "cleared" ? null : el("p", { class: "cause" }, a.cause),
      a.state === "cleared" ? null : el("p", {}, a.consequence),
      steps(a)),
    answer(l));
}

/** small is one of the others: a line. Which came first is said where there are several. */
function small(l: Gathered, lines: Gathered[], over: boolean): HTMLElement {
  const [a] = l;
  const first = l.some((one) => one.first_out) && lines.length > 1 ? el("em", { class: "first" }, alarm.first) : null;
  return el("article", { class: `alarm line ${a.state}`, "data-key": alarmKey(a) },
    shape(a), word(a, over), el("div", { class: "says" }, el("p", {}, alarmTitle(...l), state(l), " ", first), steps(a)), answer(l));
}

function word(a: Alarm, over: boolean): HTMLElement {
  const text = alarmWord(a, over);
  return el("strong", { class: text.length > 6 ? "word long" : "word" }, text);
}

function state(l: Gathered): HTMLElement {
  const count = Math.max(...l.map((a) => a.count));
  const times = count > 1 ? ` ×${count}` : "";
  return el("span", { class: "state" }, `${times} ${alarm.states[l[0].state]} `, el("span", { class: "since" }, clock(0)));
}

/** steps are what to do: nothing any more where it is over. */
function steps(a: Alarm): HTMLElement | null {
  if (a.state === "cleared") return null;
  const todo = (a.do ?? []).slice(0, 3);
  return todo.length === 0 ? null : el("ol", {}, ...todo.map((step) => el("li", {}, step)));
}

function answer(l: Gathered): HTMLElement | null {
  const [a] = l;
  if (a.state === "latched") return teller(alarm.over, () => tellOf(l, { kind: "reset" }));
  if (a.state === "off") return null;
  return el("div", { class: "answers" },
    a.state === "heard" ? null : button(alarm.heard, () => tellOf(l, { kind: "heard" })),
    later(l));
}

/** later puts an alarm off, where that may be done. */
function later(l: Gathered): HTMLElement | null {
  const [a] = l;
  const minutes = Math.min(10, a.most_off_min);
  if (minutes <= 0 || a.state === "cleared") return null;
  return button(alarm.later(minutes), () => tellOf(l, { kind: "remind", minutes }), { class: "later" });
}

/** tellOf tells the same of each alarm of a line. */
function tellOf(l: Gathered, event: Told): void {
  const events = l.map((a) => ({ ...event, alarm: alarmKey(a) }));
  if (events[0] && events.length === 1) void tell(events[0]);
  else void tellAll(events, toldSentence(event));
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
