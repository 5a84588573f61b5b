// What /api/shop serves, as far as the page of the shop reads it. A field with ? is absent
// when it isn't known.

import type { Units } from "./measure";
import type { Alarm, Call, Phase } from "./state";

/** Shop is all boxes, the next call first. */
export interface Shop {
  number: number;
  units: Units | "";
  boxes: ShopBox[];
  kettle?: string;
  circuits: Circuit[];
}

/** Circuit is what hangs on one circuit. */
export interface Circuit {
  name: string;
  says: string;
  trips: boolean;
  close: boolean;
}

/** ShopBox is one box as /api/shop has it; times count from now. */
export interface ShopBox {
  number: number;
  at: string;
  bench?: string;
  silent: boolean;
  heard: boolean;
  age_s: number;
  name?: string;
  boat?: string;
  rehearsal?: boolean;
  phase?: Phase;
  heat_off?: boolean;
  call?: Call;
  steam_c?: number;
  door_c?: number;
  left_l?: number;
  dry_lo_s?: number;
  switch?: string;
  alarm?: Alarm;
  more_alarms?: number;
  ribs_to_go?: number;
}
