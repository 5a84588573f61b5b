// When the run is over, and what is said of it: node --test test
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "../load.mjs";

const { afterRun } = await load("src/after.ts");
const { after: words } = await load("src/after-words.ts");

const bent = { supple: 20, stiff: 2, cracked: 1, untold: 1, to_go: 0 };
const empty = [{ slot: "A", sure: true }, { slot: "B", sure: true }];
const over = { bent, slots: empty, resting: false, heat_off: false, phase: "running", calls: [{ do: "done", sure: true }], probes: [] };

test("the last rib of the table is out: the run is over, the heat on or off", () => {
  assert.equal(afterRun(over), true);
  assert.equal(afterRun({ ...over, heat_off: true }), true);
});

test("without a table it is over once the heat is off or the box falls off", () => {
  const untabled = { ...over, calls: [{ do: "load", sure: true }] };
  assert.equal(afterRun(untabled), false);
  assert.equal(afterRun({ ...untabled, heat_off: true }), true);
  assert.equal(afterRun({ ...untabled, phase: "cooling" }), true);
});

test("it is not over in a break, with ribs to go, with a rib in, or before the first", () => {
  assert.equal(afterRun({ ...over, resting: true, calls: [{ do: "hold", sure: true }], heat_off: true }), false);
  assert.equal(afterRun({ ...over, bent: { ...bent, to_go: 3 }, calls: [{ do: "wait", sure: true }], heat_off: true }), false);
  assert.equal(afterRun({ ...over, slots: [{ slot: "A", rib: "7", sure: true }] }), false);
  assert.equal(afterRun({ ...over, bent: { supple: 0, stiff: 0, cracked: 0, untold: 0, to_go: 0 } }), false);
});

test("the watch says the hotter end where a probe answers", () => {
  assert.match(words.watched({ probes: [{ temp_c: 71.6 }, { fault: "absent" }, { temp_c: 64 }] }), /hotter end is at 72 °C/);
  assert.doesNotMatch(words.watched({ probes: [{ fault: "absent" }] }), /hotter/);
});

test("another boat: what lies in the box is asked about, and what was not bent is told", async () => {
  const { nextBoat } = await load("src/after-words.ts");
  assert.equal(nextBoat.inside([]), "");
  assert.equal(nextBoat.inside(["7"]), "In the box lies rib 7: pull it first.");
  assert.equal(nextBoat.inside(["7", "8"]), "In the box lie ribs 7, 8: pull them first.");
  assert.equal(nextBoat.out(["7"]), "It is out: end it, begin a new one");
  assert.equal(nextBoat.waits(0), "");
  assert.equal(nextBoat.waits(3), "3 ribs have not been bent.");
});
