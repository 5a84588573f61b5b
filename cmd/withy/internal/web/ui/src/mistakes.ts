// Mistakes in what was sent, as people read them.

import { ribTable as words } from "./before-words";
import { el } from "./dom";

/** problems lists mistakes; it is there before there are any, so that they are read out when they come. */
export function problems(mistakes: string[]): HTMLElement {
  return el("ul", { class: "mistakes", role: "alert" }, ...mistakes.map((m) => el("li", {}, m)));
}

/** readable turns mistakes in a table, such as ribs:7: column "length_mm": missing, into sentences. Labels are those of the lines below the first. */
export function readable(mistakes: string[], labels: string[] = []): string[] {
  return mistakes.map((m) => {
    const [, line, column, says] = /^\w+:(\d+): (?:column "([^"]*)": )?(.*)$/.exec(m) ?? [];
    if (line === undefined || says === undefined) return m;
    const where = words.place(column === undefined ? "" : `, ${words.column(column)}`, line, labels[Number(line) - 2] ?? "");
    return `${where}: ${says}`;
  });
}
