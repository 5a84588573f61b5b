// How something to be done stands: an empty ring, a tick, or a cross, with its word.

import { svg } from "./dom";
import type { Step } from "./fold";
import { standings } from "./before-words";

const shapes: Record<Step, string> = {
  open: "M10 3a7 7 0 1 0 0 14a7 7 0 1 0 0 -14Z",
  good: "M3 11l5 5L17 4",
  wrong: "M4 4L16 16M16 4L4 16",
};

/** standing is the shape and the word, to stand before a title. */
export function standing(s: Step, names: Record<Step, string> = standings): Node[] {
  return [
    svg("svg", { class: `shape-of is-${s}`, viewBox: "0 0 20 20", "aria-hidden": "true" }, svg("path", { d: shapes[s] })),
    document.createTextNode(`${names[s]} `),
  ];
}
