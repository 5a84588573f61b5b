// A table that the box keeps: the configuration file's, or one that was set on the page
// and can be taken back.

import { settings as words } from "./before-words";
import { Fetched } from "./fetched";
import { teller } from "./hold";
import { answer } from "./said";
import { withdraw } from "./tell";

/** Kept is a table in use, and whether it was set on the page. */
export interface Kept {
  csv: string;
  set: boolean;
}

type Path = "/api/ribs" | "/api/bends";

const flags = { "/api/ribs": "ribs_set", "/api/bends": "bends_set" } as const;

/** keptTable is the table that is read and set at a path. */
export function keptTable(path: Path): Fetched<Kept> {
  return new Fetched(() => path, async (r) => {
    const settings = (await (await fetch("/api/settings")).json()) as Record<string, unknown>;
    return { csv: await r.text(), set: settings[flags[path]] === true };
  });
}

/** wayBack is a button that puts the file's table into use again; null where it is in use. */
export function wayBack(path: Path, known: Fetched<Kept>, done: () => void): HTMLElement | null {
  return known.value?.set ? teller(words.tableBack, () => void back(path, done)) : null;
}

async function back(path: Path, done: () => void): Promise<void> {
  const { problem } = await withdraw(path);
  answer(problem === "" ? words.tableIsBack : problem, problem !== "");
  if (problem === "") done();
}
