// What the voice says, as text. The sentences are those that a builder asked for;
// nobody hears them here.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "../load.mjs";

const { aloud, spoken } = await load("src/spoken.ts");
const { inWords } = await load("src/device-words.ts");

const seven = { do: "pull", rib: "7", slot: "C", mark: "port", in_s: 0, good_s: 125, sure: true };
const pressure = { id: "pressure", title: "Pressure in the box", state: "raised", sound: "danger", count: 1 };
const low = { id: "water-low", title: "Water low", state: "raised", sound: "kettle", count: 1, do: ["Kettle on now.", "Pour it in boiling."] };
const wait = (on) => ({ id: "rib-overdone-soon", on, title: "Rib will not wait much longer", state: "raised", sound: "look", count: 1 });
const nameless = { port: "", starboard: "" };

function view({ calls = [], alarms = [], answer = { n: 0 }, phase = "running" } = {}) {
  return { status: { calls, phase }, alarms, answer };
}

/** told runs through views one after the other and returns what was said at each. */
function told(views, names = nameless) {
  let said = new Set();
  return views.map((v) => {
    const next = spoken(said, view(v), names);
    said = next.said;
    return aloud(next.fresh);
  });
}

const cases = [
  ["a pull: soon, then due, then nothing new",
    [{ calls: [{ ...seven, in_s: 16 }] }, { calls: [{ ...seven, in_s: 15 }] }, { calls: [{ ...seven, in_s: 3 }] }, { calls: [seven] }, { calls: [{ ...seven, good_s: 80 }] }],
    ["", "Seven soon. C.", "", "Seven. C. Mark to port. Good for two minutes.", ""]],
  ["only the mark has changed",
    [{ calls: [seven] }, { calls: [{ ...seven, mark: "starboard" }] }],
    ["Seven. C. Mark to port. Good for two minutes.", "Mark to starboard."]],
  ["the wait has become too long: only that is said",
    [{ calls: [seven] }, { calls: [{ ...seven, good_s: 0, too_far: true }] }],
    ["Seven. C. Mark to port. Good for two minutes.", "Its hotter end has had too much. Bend it gently."]],
  ["late is normal: the second comes due beside the first",
    [{ calls: [seven] }, { calls: [seven, { ...seven, rib: "8", slot: "D", mark: "starboard" }] }],
    ["Seven. C. Mark to port. Good for two minutes.", "Eight. D. Mark to starboard. Good for two minutes."]],
  ["due, then due in a second again: said once",
    [{ calls: [seven] }, { calls: [{ ...seven, in_s: 0.6 }] }, { calls: [seven] }],
    ["Seven. C. Mark to port. Good for two minutes.", "", ""]],
  ["one that won't wait, and is not sure", [{ calls: [{ ...seven, good_s: 12, sure: false }] }], ["Seven. C. Mark to port. It won’t wait. Not sure."]],
  ["one that keeps, of one boat among several", [{ calls: [{ ...seven, rib: "21", good_s: undefined, boat: "Wren" }] }], ["Twenty-one of Wren. C. Mark to port. It keeps."]],
  ["a test piece has no way round", [{ calls: [{ ...seven, rib: "T1", mark: undefined }] }], ["T1. C. Good for two minutes."]],
  ["too cold to say when: nothing", [{ calls: [{ ...seven, in_s: undefined }] }], [""]],
  ["no probe answers: no call", [{ calls: [seven], phase: "blind" }], [""]],
  ["a load, once it is due",
    [{ calls: [{ do: "load", rib: "8", slot: "C", in_s: 20, sure: true }] }, { calls: [{ do: "load", rib: "8", slot: "C", in_s: 0, sure: true }] }],
    ["", "Load eight into C. Mark towards you."]],
  ["put back and called again: said again",
    [{ calls: [seven] }, { calls: [] }, { calls: [seven] }],
    ["Seven. C. Mark to port. Good for two minutes.", "", "Seven. C. Mark to port. Good for two minutes."]],
  ["never over danger: only what the danger is, once",
    [{ calls: [seven], alarms: [low, pressure], answer: { n: 1, says: "Heard." } }, { calls: [seven], alarms: [low, pressure] }],
    ["Pressure in the box.", ""]],
  ["what danger kept back is said after it, if it still stands",
    [{ calls: [seven], alarms: [low, pressure] }, { calls: [seven], alarms: [low] }],
    ["Pressure in the box.", "Kettle on now. Seven. C. Mark to port. Good for two minutes."]],
  ["heard, but the pressure is still there: no call to the door",
    [{ calls: [seven], alarms: [pressure] }, { calls: [seven], alarms: [{ ...pressure, state: "heard" }] }],
    ["Pressure in the box.", ""]],
  ["raised a second time: said a second time", [{ alarms: [low] }, { alarms: [{ ...low, count: 2 }] }], ["Kettle on now.", "Kettle on now."]],
  ["the kettle waits while hands are full",
    [{ calls: [{ ...seven, in_s: 9 }], alarms: [low] }, { calls: [seven], alarms: [low] }, { calls: [], alarms: [low] }],
    ["Seven soon. C.", "Kettle on now. Seven. C. Mark to port. Good for two minutes.", ""]],
  ["in a flood only what sounds is said", [{ alarms: [low, { id: "cold-end", title: "One end cold", state: "raised", sound: "look", count: 1, hushed: true }] }], ["Kettle on now."]],
  ["another alarm is its title, and on what", [{ alarms: [{ id: "probe-failed", on: "door", title: "Probe failed", state: "raised", sound: "look", count: 1 }] }], ["Probe failed: door."]],
  ["several ribs that will not wait are said once, and again once they had too much",
    [{ alarms: [wait("10"), wait("2")] }, { alarms: [wait("10"), wait("2"), wait("3")] }, { alarms: [{ ...wait("10"), title: "Rib had too much heat" }, wait("2"), wait("3")] }],
    ["Ribs 2, 10: will not wait much longer.", "Rib 3: will not wait much longer.", "Rib 10: had too much heat."]],
  ["with no rib left to steam, no kettle",
    [{ alarms: [low] }, { alarms: [{ ...low, do: ["Every rib is out: heat off."] }] }],
    ["Kettle on now.", "Every rib is out: heat off."]],
  ["each answer to a press once",
    [{ answer: { n: 3, says: "Rib 7, cracked. Press again for no." } }, { answer: { n: 3, says: "Rib 7, cracked. Press again for no." } }, { answer: { n: 4, says: "Taken back." } }],
    ["Rib 7, cracked. Press again for no.", "", "Taken back."]],
];

for (const [name, views, says] of cases) {
  test(`spoken: ${name}`, () => assert.deepEqual(told(views), says));
}

test("spoken: the sides by their own names", () => {
  assert.deepEqual(told([{ calls: [seven] }], { port: "window side", starboard: "wall side" }), ["Seven. C. Mark to port, window side. Good for two minutes."]);
});

test("what waits to be said is out of date once the rib is due, pulled, or danger sounds", () => {
  const still = (v) => [...spoken(new Set(), view(v), nameless).true];
  assert.deepEqual(still({ calls: [{ ...seven, in_s: 9 }] }), ["soon 7 C"]);
  assert.deepEqual(still({ calls: [seven] }), ["pull 7 C", "mark port 7 C", "good 7 C"]);
  assert.deepEqual(still({}), []);
  assert.deepEqual(still({ calls: [seven], alarms: [pressure] }), ["danger pressure 1 Pressure in the box."]);
});

test("numbers in words", () => {
  assert.deepEqual([0, 7, 12, 20, 24, 99].map(inWords), ["zero", "seven", "twelve", "twenty", "twenty-four", "ninety-nine"]);
});

test("each round of a dry run is called once, when it is due", () => {
  const at = (rounds, in_s) => ({ status: { calls: [{ do: "dry", in_s, sure: true }], phase: "cold", dry: { on: true, rounds } }, alarms: [], answer: { n: 0 } });
  let said = new Set();
  const fresh = [at(0, 3), at(0, 0), at(0, 0), at(1, 4), at(1, 0)].map((v) => {
    const next = spoken(said, v, nameless);
    said = next.said;
    return next.fresh.map((s) => s.says).join(" ");
  });
  assert.deepEqual(fresh, ["", "Pull. Walk, fit, and back.", "", "", "Pull. Walk, fit, and back."]);
});
