// The boat from above as she lies before this screen: where her bow points, and port
// and starboard with their letters.

import { svg } from "./dom";
import { bowEdge, sideEdge, type Edge, type Lies } from "./lie";
import { boat as words } from "./wait-words";
import { call } from "./words";

const size = 150; // px
const mid = size / 2;
const rim = 16; // px from a letter's middle to the edge
const quarter: Record<Edge, number> = { top: 0, right: 90, bottom: 180, left: 270 };
const at: Record<Edge, [x: number, y: number]> = { top: [mid, rim], right: [size - rim, mid], bottom: [mid, size - rim], left: [rim, mid] };

/** lieDrawing draws her as she lies; a keel that is up is seen from above, one that is down is not. */
export function lieDrawing(lies: Lies): SVGElement {
  return svg("svg", { class: "lies", width: size, height: size, viewBox: `0 0 ${size} ${size}`, role: "img", "aria-label": words.label("", lies) },
    svg("g", { transform: `rotate(${quarter[bowEdge(lies)]} ${mid} ${mid})` },
      svg("path", { class: "outline", d: `M${mid} 38C${mid + 34} 66 ${mid + 28} 112 ${mid} 124C${mid - 28} 112 ${mid - 34} 66 ${mid} 38Z` }),
      lies.keel === "up" ? svg("path", { class: "keel", d: `M${mid} 44V120` }) : null),
    letter(sideEdge(lies, "port"), call.port, "port"), letter(sideEdge(lies, "starboard"), call.starboard, "starboard"), bow(lies));
}

function letter(edge: Edge, text: string, side: string): SVGElement {
  const [x, y] = at[edge];
  return svg("g", { class: side }, svg("rect", { x: x - 14, y: y - 14, width: 28, height: 28 }), svg("text", { x, y: y + 6, "text-anchor": "middle" }, text));
}

function bow(lies: Lies): SVGElement {
  const [x, y] = at[bowEdge(lies)];
  return svg("text", { x, y: y + 5, "text-anchor": "middle" }, words.bow);
}
