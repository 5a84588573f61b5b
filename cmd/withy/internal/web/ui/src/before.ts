// Before the run: the steps from the bench to the first rib. They are the page's second
// half until a rib has been loaded; from then on they wait in a fold of their own.

import { before as words, bends as bendWords, dry as dryWords, lies as liesWords, plan as planWords, ribTable, rig as rigWords, settings as settingsWords } from "./before-words";
import { bends, bendsChanged, bendsGist, bendsStep, onBends } from "./bends";
import { device } from "./device";
import { byID, el, keyed } from "./dom";
import { dry, dryGist, dryStep } from "./dry";
import { Fold } from "./fold";
import { lieDrawing } from "./lie-drawing";
import { plan, planChanged, planGist, planStep } from "./plan";
import { onRibs, ribs, ribsChanged, ribsGist, ribsStep } from "./ribs";
import { asked, rig, rigStep } from "./rig";
import { lieSettings } from "./screen";
import { onSet, settings, settingsChanged, settingsGist, settingsStep } from "./settings";
import { beforeRun, type View } from "./state";
import { boat } from "./wait-words";

const numbered = (n: number, title: string): string => `${n}. ${title}`;

const steps: Fold[] = [
  new Fold(numbered(1, rigWords.title), (v) => rigWords.gist(v.rig ?? []), rig, rigStep),
  new Fold(numbered(2, settingsWords.title), settingsGist, settings, settingsStep),
  new Fold(numbered(3, ribTable.title), ribsGist, ribs, ribsStep),
  new Fold(numbered(4, bendWords.title), bendsGist, bends, bendsStep),
  new Fold(numbered(5, planWords.title), planGist, plan, planStep),
  new Fold(numbered(6, dryWords.title), dryGist, dry, dryStep),
  new Fold(numbered(7, liesWords.title), () => liesWords.gist(device().lies.keel, liesWords.bows[device().lies.bow]), lies, liesStep),
];
const afresh = [undefined, settingsChanged, ribsChanged, bendsChanged, planChanged];

const body = el("div", { class: "steps" });
const later = el("details", { class: "fold" }, el("summary", {}, el("span", { class: "title" }, words.title), " ", el("span", { class: "gist" }, words.later)));

/** before shows the steps where they belong now. */
export function before(v: View): void {
  const root = byID("before");
  const early = beforeRun(v.status);
  if (body.childElementCount === 0) build(root);
  if (root.hidden === early) (early ? root : later).append(body);
  [root.hidden, later.hidden] = [!early, early];
  if (early || later.open) for (const step of steps) step.show(v);
}

function build(root: HTMLElement): void {
  root.append(el("h2", {}, words.title), el("p", {}, words.intro), body);
  byID("wait").append(later);
  body.append(...steps.map((s) => s.node));
  for (const [i, step] of steps.entries()) step.node.addEventListener("toggle", () => { if (step.node.open) afresh[i]?.(); });
  for (const heard of [onSet, onRibs, onBends]) heard(planChanged);
}

function liesStep(v: View): "open" | "good" | "wrong" {
  return v.rig?.find((i) => i.item === "boat")?.state ?? "open";
}

/** lies sets how she lies before this screen, and takes the word that it is so. */
function lies(root: HTMLElement, v: View): void {
  const item = v.rig?.find((i) => i.item === "boat");
  if (root.childElementCount === 0) root.append(el("p", {}, liesWords.intro), ...lieSettings("before"), el("div"));
  keyed(root.lastElementChild as Element, JSON.stringify([item, device().lies]), () => [
    el("p", {}, boat.label("", device().lies)), lieDrawing(device().lies), item?.ask ? asked(item, item.ask) : null,
  ]);
}
