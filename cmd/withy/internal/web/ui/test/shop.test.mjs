// What the page of the shop says of a box.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "../load.mjs";

const { figure, shop } = await load("src/shop-words.ts");
const { pitchOf } = await load("src/sound.ts");

const box = (more) => ({ number: 2, at: "box-2.lan:8017", silent: false, heard: true, age_s: 1, phase: "running", ...more });
const pull = (more) => box({ call: { do: "pull", rib: "7", slot: "C", sure: true, ...more } });

test("a call that comes, one that is due, one that is late", () => {
  assert.deepEqual([figure(pull({ in_s: 72, good_s: 90 })).figure, figure(pull({ in_s: 72 })).late], ["1:12", false]);
  const due = figure(pull({ in_s: 0, good_s: 65 }));
  assert.deepEqual([due.figure, due.late, due.label], ["1:05", true, "pull, still good for"]);
  assert.equal(figure(pull({ in_s: 0, good_s: 0 })).figure, "now");
});

test("a silent box says since when, and shows no call", () => {
  const f = figure(pull({ in_s: 5 }));
  assert.equal(f.figure, "0:05");
  const silent = figure({ ...pull({ in_s: 5 }), silent: true, age_s: 240 });
  assert.deepEqual([silent.figure, silent.label], ["silent", "not heard for 4 min: look at the box itself"]);
  assert.match(figure(box({ silent: true, heard: false, age_s: 30 })).label, /^not heard yet/);
});

test("a box without a probe is no box with time to spare", () => {
  assert.equal(figure({ ...pull({ in_s: 60 }), phase: "blind" }).figure, "?");
});

test("water: what is left, and when it may be gone", () => {
  assert.equal(shop.dry(box({ dry_lo_s: 1500 })), "dry in 25 min at the earliest");
  assert.equal(shop.dry(box({ dry_lo_s: 20 })), "may be dry now");
  assert.equal(shop.dry(box({ switch: "open" })), "water low");
  assert.equal(shop.dry(box({ switch: "closed" })), "");
});

test("six boxes have six pitches, and no two are an octave apart", () => {
  const all = [1, 2, 3, 4, 5, 6].map(pitchOf);
  assert.equal(pitchOf(0), 1);
  for (const [i, a] of all.entries()) for (const b of all.slice(0, i)) assert.ok(Math.abs(Math.log2(a / b)) > 0.2 && Math.abs(Math.abs(Math.log2(a / b)) - 1) > 0.01, `${a} ${b}`);
});

test("an alarm says of which box it is, and whether it goes on", () => {
  assert.equal(shop.alarm(box({}), { title: "Boiler dry", state: "raised" }), "Box 2: Boiler dry.");
  assert.equal(shop.alarm(box({ more_alarms: 2 }), { title: "Boiler dry", state: "latched" }), "Box 2: Boiler dry, over, waits to be looked at, and 2 more.");
});
