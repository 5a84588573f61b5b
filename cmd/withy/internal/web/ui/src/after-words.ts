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
  next: "The next boat: what these bends showed of the wood is kept for it. A new log begins by itself once the box has been cold for six hours, or as soon as you say so below.",
};

const ribs = (some: string[]): string => (some.length === 1 ? `rib ${some[0]}` : `ribs ${some.join(", ")}`);

export const nextBoat = {
  title: "Another boat",
  gist: "end this log, begin a new one",
  says: "This log ends, and stays with its report among all sessions. A new one begins: every rib of the table waits again, and water, heat, rig check and what the wood has shown go on. Then give her name and her ribs under “Before the run”.",
  begin: "Begin a new log…",
  inside: (some: string[]) => (some.length === 0 ? "" : `In the box ${some.length === 1 ? "lies" : "lie"} ${ribs(some)}: pull ${some.length === 1 ? "it" : "them"} first.`),
  waits: (n: number) => (n <= 0 ? "" : `${n} ${n === 1 ? "rib has" : "ribs have"} not been bent.`),
  sure: "End this log now?",
  yes: "End it, begin a new one",
  out: (some: string[]) => `${some.length === 1 ? "It is" : "They are"} out: end it, begin a new one`,
  no: "Leave it",
  begun: "A new log has begun. The last one is kept.",
};
