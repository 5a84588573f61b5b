// What is looked up rather than watched: the heat in numbers, the cautions, and what
// is wrong with the program itself.

import { byID, el, keyed, table } from "./dom";
import type { EndHeat, Rib, View } from "./state";
import { clock, more as words } from "./words";

/** more shows the folds at the end of the page. */
export function more(v: View): void {
  const root = byID("more");
  if (root.childElementCount === 0) {
    root.append(el("div", { class: "troubles" }), cautions(), fold(words.heat, "heat"));
  }
  const troubles = v.troubles ?? [];
  keyed(root.children[0] as Element, troubles.join("\n"), () =>
    troubles.length === 0 ? [] : [el("h2", {}, words.troubles), el("ul", {}, ...troubles.map((t) => el("li", {}, t)))]);
  const details = root.children[2] as HTMLDetailsElement;
  if (details.open) heats(details.querySelector(".heat") as Element, v);
}

/** fold makes a part that opens; what is in it may be wide, so keys can scroll it. */
function fold(title: string, name: string): HTMLDetailsElement {
  return el("details", {}, el("summary", {}, title), el("div", { class: name, tabindex: 0, role: "region", "aria-label": title }));
}

function cautions(): HTMLDetailsElement {
  return el("details", {}, el("summary", {}, words.before), el("ul", {}, ...words.cautions.map((c) => el("li", {}, c))));
}

function heats(root: Element, v: View): void {
  const ribs = (v.status.ribs ?? []).filter((r) => r.ends);
  root.replaceChildren(el("p", {}, words.window(v.status)), table(words.unit(), words.columns, ribs.map(line)));
}

function line(r: Rib): string[] {
  return [r.rib, r.soak_s === undefined ? "" : clock(r.soak_s), span(r.ends?.[0]), span(r.ends?.[1]), r.outcome ?? "", r.mark];
}

/** span writes a best guess with its bounds. */
function span(e: EndHeat | undefined): string {
  return e ? `${e.exposure_min.toFixed(2)} (${e.exposure_lo_min.toFixed(2)} to ${e.exposure_hi_min.toFixed(2)})` : "";
}
