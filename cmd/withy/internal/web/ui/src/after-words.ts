// What the page says after the run, in the words of the shed.

import { degrees } from "./measure";
import type { Ledger, Status } from "./state";

export const after = {
  title: "After the run",
  bent: (b: Status["bent"]) => `${b.supple} supple, ${b.stiff} stiff, ${b.cracked} cracked${b.untold > 0 ? `, ${b.untold} that nobody told of` : ""}.`,
  heatOff: "Burner or heater off?",
  tellHeatOff: "Heat is off",
  heatIsOff: "The heat is off.",
  watched(s: Status): string {
    if (s.phase === "cold") return "The box is cold.";
    const read = (s.probes ?? []).flatMap((p) => p.temp_c ?? []);
    const so = read.length > 0 ? ` Its hotter end is at ${degrees(Math.max(...read), 0)}.` : "";
    return `Water, heat and pressure are watched until the box is cold.${so}`;
  },
  tank: "Leave the cap on until the tank is cold.",
  away: "The box may be under pressure: keep away from the door.",
  todo: "Still to do",
  ledger: (l: Ledger) => [
    ...(l.replaced ?? []).map((r) => `Rib ${r.rib} was replaced by ${r.by}.`),
    l.spares_left === undefined ? "" : `Spares left: ${l.spares_left}.`,
  ].filter((line) => line !== ""),
  report: "The report of this run",
  reportSays: "opens in a tab of its own, to keep or to print.",
  history: "All sessions",
  historySays: "what worked in each stick, what broke, and how this box went.",
  next: "The next boat: what these bends showed of the wood is kept for it. A new log begins by itself once the box has been cold for six hours.",
};
