// What the page reckons by itself, without a browser: node --test test
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "../load.mjs";

const { lines } = await load("src/log.ts");
const { ribList, reach } = await load("src/wait-words.ts");
const { parts } = await load("src/steam.ts");
const { readings } = await load("src/readings.ts");

const loaded = { elapsed_s: 100, event: { id: "1", kind: "loaded", rib: "7", slot: "C" } };
const pulled = { elapsed_s: 400, event: { id: "2", kind: "pulled", slot: "C" } };
const stiff = { elapsed_s: 410, event: { id: "3", kind: "outcome", rib: "7", outcome: "stiff" } };
const later = (id, event) => ({ elapsed_s: 500, event: { id, ...event } });

test("a pull names the rib that lay in the slot", () => {
  assert.equal(lines([loaded, pulled])[0].event.rib, "7");
});

test("what was told late stands where it happened", () => {
  const told = lines([loaded, later("2", { kind: "pulled", slot: "C", earlier_s: 450 })]);
  assert.deepEqual(told.map((l) => [l.id, l.at]), [["1", 100], ["2", 50]]);
});

test("amended twice: both count, and the times add up", () => {
  const [line] = lines([pulled, later("4", { kind: "amended", of: "2", earlier_s: 30 }), later("5", { kind: "amended", of: "2", earlier_s: 15 })]);
  assert.deepEqual([line.at, line.changes], [355, ["4", "5"]]);
});

test("amended otherwise: the other outcome counts, the kind stays", () => {
  const [line] = lines([stiff, later("4", { kind: "amended", of: "3", outcome: "supple", by: "page" })]);
  assert.deepEqual([line.event.kind, line.event.outcome, line.event.id], ["outcome", "supple", "3"]);
});

test("a crack that was none is not outside or inside", () => {
  const cracked = { elapsed_s: 410, event: { id: "3", kind: "outcome", rib: "7", outcome: "cracked", where: "outside" } };
  const [line] = lines([cracked, later("4", { kind: "amended", of: "3", outcome: "supple" })]);
  assert.deepEqual([line.event.outcome, line.event.where], ["supple", undefined]);
});

test("an amendment that was struck does not count", () => {
  const [line] = lines([stiff, later("4", { kind: "amended", of: "3", outcome: "supple" }), later("5", { kind: "struck", of: "4" })]);
  assert.deepEqual([line.event.outcome, line.changes], ["stiff", []]);
});

test("struck, and the strike struck in its turn", () => {
  const never = [loaded, pulled, stiff, later("4", { kind: "struck", of: "3" })];
  assert.deepEqual(lines(never)[0].struckBy, ["4"]);
  assert.deepEqual(lines([...never, later("5", { kind: "struck", of: "4" })])[0].struckBy, []);
});

test("a load that never happened puts no rib into its slot", () => {
  const told = lines([loaded, later("4", { kind: "struck", of: "1" }), { elapsed_s: 600, event: { id: "5", kind: "pulled", slot: "C" } }]);
  assert.equal(told[0].event.rib, undefined);
});

test("alarms that were heard or put off are no lines", () => {
  assert.deepEqual(lines([later("4", { kind: "heard", alarm: "dry-soon" }), later("5", { kind: "remind", alarm: "cold-end", minutes: 10 })]), []);
});

test("ribs in a row are said as a span", () => {
  assert.equal(ribList(["10", "8", "9", "11", "12"]), "8 to 12");
  assert.equal(ribList(["13", "12", "15", "T1"]), "12, 13, 15 and T1");
  assert.equal(ribList(["9", "10", "11", "3", "5"]), "3, 5 and 9 to 11");
  assert.equal(ribList(["7"]), "7");
});

test("what is short is what the ribs ask for beyond the boiler", () => {
  const heat = { boiler_w: 1900, walls_w: 1200, vent_w: 190, ribs_w: 600, spare_w: -90 };
  assert.deepEqual(parts(heat).map((p) => [p.name, p.w]), [["walls", 1200], ["vent", 190], ["ribs", 600], ["short", 90]]);
  assert.equal(parts({ ...heat, ribs_w: 400, spare_w: 110 })[3].name, "spare");
});

test("the readings that are read out are evenly apart, the first and the last among them", () => {
  const minutes = Array.from({ length: 101 }, (_, i) => 60 * i);
  const trace = { elapsed_s: minutes, probes: [minutes.map(() => 99), minutes.map(() => null), minutes.map((_, i) => i)], events: [] };
  assert.deepEqual(readings(trace, 3), [["0:00:00", "99.0 °C", "0.0 °C"], ["0:50:00", "99.0 °C", "50.0 °C"], ["1:40:00", "99.0 °C", "100.0 °C"]]);
  const few = { elapsed_s: [0], probes: [[null], [97.31]], events: [] };
  assert.deepEqual(readings(few, 12), [["0:00:00", "no reading", "97.3 °C"]]);
  assert.deepEqual(readings({ elapsed_s: null, probes: null, events: null }, 12), []);
});

test("an alarm that is over is told by when it began, one that goes on by how long it has", async () => {
  const { alarm } = await load("src/words.ts");
  assert.equal(alarm.since("raised", 65), "for 1:05");
  assert.equal(alarm.since("heard", 65), "for 1:05");
  assert.equal(alarm.since("cleared", 65), "began 1:05 ago");
  assert.equal(alarm.since("latched", 65), "began 1:05 ago");
});

test("each way to reach somebody is told with how it does", () => {
  const phone = { name: "phone", kind: "topic", good_s: 185, waiting: 0, late: false };
  const broker = { name: "shop", kind: "mqtt", bad_s: 2, fails: "broker.lan: no answer in time", waiting: 2, late: true };
  assert.equal(reach.way(phone), "– phone, a push; last got through 3 min ago.");
  assert.equal(reach.way({ ...phone, good_s: 12 }), "– phone, a push; last got through just now.");
  assert.equal(reach.way({ ...phone, good_s: undefined }), "– phone, a push.");
  assert.equal(reach.way(broker), "– shop, a message board; broker.lan: no answer in time; nothing has got through yet; 2 alarms are not told yet.");
  assert.deepEqual([[phone], [phone, phone], [phone, broker], [broker]].map(reach.gist), ["one way", "2 ways", "1 of 2 ways does not work now", "no way works now"]);
});

test("a test message: who took it, and who not and why", () => {
  assert.equal(reach.sent([{ name: "phone", kind: "topic", ok: true }, { name: "shop", kind: "webhook", ok: false, says: "shop.lan: no answer in time" }]),
    "Sent by phone. Did it arrive? Not by shop: shop.lan: no answer in time.");
  assert.equal(reach.sent([{ name: "shop", kind: "webhook", ok: false, says: "it refuses the user or the secret (401)" }]),
    "It was taken by nobody. Not by shop: it refuses the user or the secret (401).");
});

test("alarms of one kind that stand alike are one line, with all that they are on in order", async () => {
  const { gathered } = await load("src/gathered.ts");
  const { alarmTitle, alarmWord } = await load("src/words.ts");
  const rib = (on, state = "raised", title = "Rib will not wait much longer") => ({ id: "rib-overdone-soon", on, state, title });
  const low = { id: "water-low", state: "raised", title: "Water low" };
  const titles = (...list) => gathered(list).map((l) => alarmTitle(...l));
  assert.deepEqual(titles(rib("10"), low, rib("2")), ["Ribs 2, 10: will not wait much longer", "Water low"]);
  assert.deepEqual(titles(rib("7")), ["Rib 7: will not wait much longer"]);
  assert.deepEqual(titles(rib("1"), rib("2", "heard"), rib("3", "raised", "Rib had too much heat")).length, 3);
  assert.deepEqual(titles({ id: "probe-failed", on: "door", state: "raised", title: "Probe failed" }), ["Probe failed: door"]);
  assert.equal(alarmWord({ id: "dry-soon" }, false), "KETTLE");
  assert.equal(alarmWord({ id: "dry-soon" }, true), "WATER");
});

test("the water is never told to be for no ribs", async () => {
  const { water } = await load("src/words.ts");
  assert.equal(water.ribs({ for_ribs: 0, ribs_to_go: 3 }), "not for another rib, 3 to go");
  assert.equal(water.ribs({ for_ribs: 0, ribs_to_go: 0 }), "not for another rib");
  assert.equal(water.ribs({ for_ribs: 9, ribs_to_go: 0 }), "for 9 ribs"); // without a table nobody knows how many
  assert.equal(water.ribs({ ribs_to_go: 0 }), "");
  assert.equal(water.ribs({ for_ribs: 1, ribs_to_go: 4 }), "for 1 rib, 4 to go");
  assert.equal(water.ribs({ ribs_to_go: 1 }), "1 rib to go");
});

test("how far an end is from boiling is told in degrees, and in tenths only where they matter", async () => {
  const { ends } = await load("src/words.ts");
  assert.deepEqual([0.04, 2.76, 36.8, -1.5].map(ends.under), ["at boiling", "2.8 °C under boiling", "37 °C under boiling", "1.5 °C over boiling"]);
});
