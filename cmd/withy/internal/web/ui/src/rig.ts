// The rig check: what the program sees to be right by itself, what somebody has to
// try by hand, and what to do about what is wrong.

import { choice, el, group, keyed } from "./dom";
import { rig as words } from "./before-words";
import { calibration, calibrationFollows, heldAt } from "./calibrate";
import type { Step } from "./fold";
import { teller } from "./hold";
import { standing } from "./standing";
import type { RigItem, Sound, View } from "./state";
import { newID, sendUntilTaken, tellAll } from "./tell";
import { reached } from "./reach";
import { answer } from "./said";

const sounds: Exclude<Sound, "" | "look">[] = ["pull", "ready soon", "kettle", "danger"];

/** rigStep is how the whole rig stands. */
export function rigStep(v: View): Step {
  const items = v.rig ?? [];
  if (items.some((i) => i.state === "wrong")) return "wrong";
  return items.length > 0 && items.every((i) => i.state === "good") ? "good" : "open";
}

/** rig lists every item; what is wrong comes first, then what is open. */
export function rig(root: HTMLElement, v: View): void {
  const items = sorted(v.rig ?? []);
  const focused = root.contains(document.activeElement) ? document.activeElement?.id : "";
  keyed(root, JSON.stringify(items.map((i) => [i.item, i.state])), () =>
    items.length === 0 ? [el("p", {}, words.none)] : [el("ul", { class: "rig" }, ...items.map((i) => el("li", { class: `is-${i.state}` })))]);
  root.querySelectorAll(".rig > li").forEach((line, i) => {
    const item = items[i];
    if (!item) return;
    keyed(line, JSON.stringify(item), () => [...rigItem(item), item.item === "probes" ? calibration(item.state) : null]);
    const way = line.querySelector(".reached");
    if (way) reached(way, v);
  });
  calibrationFollows();
  if (focused && document.activeElement?.id !== focused) document.getElementById(focused)?.focus(); // its item has moved
}

const order: Step[] = ["wrong", "open", "good"];

/** sorted keeps the daemon's order among those that stand alike; the probes keep their place while they are calibrated. */
function sorted(items: RigItem[]): RigItem[] {
  const place = (i: RigItem): number => order.indexOf((i.item === "probes" ? heldAt() : undefined) ?? i.state);
  return [...items].sort((a, b) => place(a) - place(b));
}

/** rigItem is one item: how it stands, what is so, what to do, and the button that says it was done. */
export function rigItem(i: RigItem): Node[] {
  const steps = i.state === "good" ? [] : (i.do ?? []);
  return [
    el("p", { class: "what" }, ...standing(i.state), el("b", {}, i.title), " ", i.says),
    el("ul", { class: "to-do" }, ...steps.map((s) => el("li", {}, s))),
    i.item === "message" ? el("div", { class: "reached" }) : document.createTextNode(""),
    i.state !== "good" && i.sound ? tryout(i.sound) : document.createTextNode(""),
    i.ask ? asked(i, i.ask) : document.createTextNode(""),
  ];
}

/** asked is the button by which somebody says that it is so, or takes that back. */
export function asked(i: RigItem, ask: string): HTMLElement {
  return el("div", { class: "choice" }, i.state === "good"
    ? teller(words.takeBack, () => say(i, false), { "aria-label": words.takeBackOf(i.title) })
    : teller(ask, () => say(i, true), { "aria-label": `${i.title}: ${ask}` }));
}

/** tryout plays a sound at the sounder and on every page, to be heard where the ribs are bent. */
function tryout(first: Sound): HTMLElement {
  const which = choice(words.which, sounds.map((s) => [s, words.sounds[s]]), first);
  return group(words.trySound, which, teller(words.play, () => void play(which.value)), el("p", {}, words.heardThere));
}

async function play(sound: string): Promise<void> {
  const { problem } = await sendUntilTaken("/api/sound", { id: newID(), sound });
  answer(problem === "" ? words.plays : problem, problem !== "");
}

function say(i: RigItem, on: boolean): void {
  void tellAll([{ kind: "checked", item: i.item, on }], words.told(i.title, on));
}
