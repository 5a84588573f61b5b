// The rib that is in somebody's hands at the boat, and how long it can be worked.

import type { Mark, Status } from "./state";

/** InHand is the rib that was pulled last, while it still gives. */
export interface InHand {
  rib: string;
  mark: Mark | "";
  stage: "bend" | "shape" | "give";
  left_s: number; // of that stage
}

/**
 * inHand returns it, or undefined once it was told to be in, or how it bent, or when
 * it gives no more. A rib that went back into the box is not in hand either.
 */
export function inHand(s: Status): InHand | undefined {
  const out = (s.ribs ?? []).filter((r) => r.place === "pulled");
  const last = out.sort((a, b) => (b.pulled_s ?? 0) - (a.pulled_s ?? 0))[0];
  if (!last || last.fitted || last.outcome) return undefined;
  const since = s.elapsed_s - (last.pulled_s ?? 0);
  const { bend_s, shape_s, give_s } = s.out_of_box;
  const stages = [["bend", bend_s], ["shape", shape_s], ["give", give_s]] as const;
  const now = stages.find(([, until]) => since < until);
  return now && { rib: last.rib, mark: last.mark, stage: now[0], left_s: now[1] - since };
}
