// How the boat lies before whoever stands at this screen, and on which hand port then
// is: port stays port when she lies upside down.

import type { Mark } from "./state";

/** Lies is how the boat lies: which way her keel and, from where one stands, her bow. */
export interface Lies {
  keel: "down" | "up";
  bow: "away" | "towards" | "left" | "right";
}

/** Edge is a direction as seen from above, and the edge of the screen that stands for it: top is away. */
export type Edge = "left" | "right" | "top" | "bottom";

const clockwise: Edge[] = ["top", "right", "bottom", "left"];
const bows: Record<Lies["bow"], Edge> = { away: "top", right: "right", towards: "bottom", left: "left" };

/** turned is the edge so many quarter turns further, clockwise from above. */
function turned(edge: Edge, quarters: number): Edge {
  return clockwise[(clockwise.indexOf(edge) + quarters + 4) % 4] ?? edge;
}

/** bowEdge is where her bow points. */
export function bowEdge(lies: Lies): Edge {
  return bows[lies.bow];
}

/** sideEdge is where a side of hers is: port a quarter turn left of the bow while the keel is down, and right of it while it is up. */
export function sideEdge(lies: Lies, side: Mark): Edge {
  return turned(bowEdge(lies), (side === "port") === (lies.keel === "down") ? -1 : 1);
}

/** along reports whether her keel runs across the screen from left to right or back. */
export function along(lies: Lies): boolean {
  return lies.bow === "left" || lies.bow === "right";
}
