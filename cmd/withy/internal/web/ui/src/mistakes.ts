// Mistakes in what was sent, as people read them.

import { ribTable as words } from "./before-words";
import { el } from "./dom";
import { length } from "./measure";

/** problems lists mistakes; it is there before there are any, so that they are read out when they come. */
export function problems(mistakes: string[]): HTMLElement {
  return el("ul", { class: "mistakes", role: "alert" }, ...mistakes.map((m) => el("li", {}, m)));
}

/** readable turns mistakes in a file, such as ribs:7: column "length_mm": missing, into sentences. */
export function readable(mistakes: string[]): string[] {
  return mistakes.map((m) => {
    const { line, column, says } = placed(m);
    return line === 0 ? says : `${words.place(column === "" ? "" : `, ${words.column(column)}`, line)}: ${says}`;
  });
}

/** Placed is a mistake in a table that was sent: its line, 1 for the heads of the columns and 0 for none, its column or "", and what is wrong. */
export interface Placed {
  line: number;
  column: string;
  says: string;
}

/** placed takes a mistake apart. */
export function placed(mistake: string): Placed {
  const [, line, column, says] = /^\w+:(\d+): (?:column "([^"]*)": )?(.*)$/.exec(mistake) ?? [];
  return line === undefined || says === undefined ? { line: 0, column: "", says: mistake } : { line: Number(line), column: column ?? "", says };
}

/** inTheirUnits says in the units that people type here which lengths are allowed, where that is what a mistake in millimetres says. */
export function inTheirUnits(says: string): string {
  const range = /^(\S+) is outside (\S+) to (\S+)$/.exec(says)?.slice(1).map(Number) ?? [];
  const [typed, lo, hi] = range.map((mm) => length(mm / 1000));
  return typed === undefined || lo === undefined || hi === undefined || range.some(Number.isNaN) ? says : words.outside(typed, lo, hi);
}
