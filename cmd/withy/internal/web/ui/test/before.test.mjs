// What is typed before the run, and what is made of it: node --test test
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "../load.mjs";

// Each is a bundle of its own: those that share the units in use are loaded as one.
const shared = await load("test/before-all.ts");
const { measureIn, asFile, fromFile, following, emptyLine, nextLabel, inOwnUnits, total, withCell, typed, shown, unitName } = shared;
const { asText, asValue, drafted, draftText, mistakesOf, range, bendsFrom, bendsFile, readable, joined, takeRounds, beforeRun, readDraft, inTheirUnits, fieldOf, calibration } = shared;

function inUnits(units, run) {
  measureIn(units);
  try {
    run();
  } finally {
    measureIn("metric");
  }
}

const rib = (label, length, more = {}) => ({ ...emptyLine(label), length, ...more });

test("a table is written with the columns that were filled in, in mm", () => {
  const lines = [rib("1", "943", { bend: "hard", station: "0" }), rib("2", "96.1 cm", { stick: 'the "long", one', station: "165" })];
  assert.equal(asFile(lines).csv, 'rib,length_mm,station_mm,stick,bend\n1,943,0,,hard\n2,961,165,"the ""long"", one",');
});

test("inches go out in mm: an inch is 25.4 mm (NIST SP 811, appendix B.8)", () => inUnits("us", () => {
  assert.equal(asFile([rib("1", "37 5/16")]).csv, "rib,length_mm\n1,947.74"); // 37.3125 × 25.4 = 947.7375
  assert.equal(asFile([rib("1", `3' 1 5/16"`)]).csv, "rib,length_mm\n1,947.74");
}));

test("all mistakes come together, each with its line and field", () => {
  const { mistakes } = asFile([rib("7", "abc"), rib("7", "900"), rib("", ""), rib("9", "900", { width: "wide" })]);
  assert.deepEqual(mistakes.map((m) => [m.line, m.field]), [[0, "length"], [1, "rib"], [2, "rib"], [2, "length"], [3, "width"]]);
});

test("what nobody typed in comes back as it was, to the hundredth of a mm, in inches too", () => inUnits("us", () => {
  const csv = "rib,length_mm,station_mm,meant\n1,943.07,12.5,yes\n2,961,177.5,";
  const lines = fromFile(csv);
  assert.equal(lines[0].length, "37 1/8"); // 37.1287 in
  assert.equal(asFile(lines).csv, csv);
  lines[1].length = "38";
  assert.equal(asFile(lines).csv, csv.replace("961", "965.2"));
}));

test("lengths that were typed mean the same where other units come into use", () => {
  const line = inOwnUnits(rib("1", "943", { width: "2.8 cm" }), "metric");
  assert.deepEqual([line.length, line.width, line.station], ["943 mm", "2.8 cm", ""]);
  inUnits("us", () => assert.equal(asFile([line]).csv, "rib,length_mm,width_mm\n1,943,28"));
});

test("a setting that was typed means the same where other units come into use", () => {
  const shed = { key: "place.shop_c", kind: "number", unit: "°C", lo: -30, hi: 50, value: 15 };
  const draft = drafted(shed, "20");
  assert.equal(draftText(shed, draft), "20");
  inUnits("us", () => {
    assert.equal(draftText(shed, draft), "68"); // 20 × 1.8 + 32
    assert.deepEqual(draft.read, { value: 20 });
    assert.equal(draftText(shed, drafted(shed, "68")), "68");
    assert.deepEqual(drafted(shed, "68").read, { value: 20 });
  });
  inUnits("us", () => assert.equal(draftText(shed, drafted(shed, "warm")), "warm"));
});

test("a draft is read as it was kept, with what a line lacks left empty", () => {
  const draft = { lines: [rib("1", "37 5/16")], typedIn: "us" };
  assert.deepEqual(readDraft(JSON.stringify(draft)), draft);
  assert.deepEqual(readDraft('{"lines":[{"rib":"2"}]}'), { lines: [emptyLine("2")], typedIn: "metric" });
  assert.deepEqual([readDraft(null), readDraft("{}")], [null, null]);
});

test("the next rib has the next number that none bears, and the same stick and section", () => {
  assert.deepEqual(["7", "F7", "stern"].map((l) => nextLabel(l)), ["8", "F8", ""]);
  const next = following([rib("2", "900"), rib("1", "880", { stick: "A", thickness: "6.5", bend: "hard", meant: true, station: "5" })]);
  assert.deepEqual([next.rib, next.length, next.station, next.stick, next.thickness, next.bend, next.meant], ["3", "", "", "A", "6.5", "hard", false]);
});

test("the sum is of the lengths that can be read", () => {
  assert.deepEqual(total([rib("1", "900"), rib("2", "x"), rib("3", "1100")]), { ribs: 2, m: 2 });
});

test("one cell is put right, of the boat that is meant, quoted cells and all", () => {
  const csv = 'rib,length_mm,boat\n1,900,"A, the first"\n1,901,B';
  assert.equal(withCell(csv, "A, the first", "1", "meant", "yes"), 'rib,length_mm,boat,meant\n1,900,"A, the first",yes\n1,901,B,');
  assert.equal(withCell(csv, "B", "1", "length_mm", "880"), 'rib,length_mm,boat\n1,900,"A, the first"\n1,880,B');
});

const altitude = { key: "place.altitude_m", kind: "number", unit: "m", lo: -500, hi: 5500, value: 250 };

test("a number is read with or without its unit, and held to its range", () => {
  assert.deepEqual(asValue(altitude, " 1200 m "), { value: 1200 });
  assert.match(asValue(altitude, "1,200").mistake, /two ways/);
  assert.match(asValue(altitude, "9000").mistake, /-500 to 5500 m/);
  assert.match(asValue(altitude, "high").mistake, /high/);
  assert.deepEqual(asValue({ ...altitude, lo: 100, none: true }, "0"), { value: 0 });
});

test("a number may have its field's own unit behind it, and another unit is told what is wanted", () => {
  for (const text of ["2200 W", "2200w", "2200"]) assert.deepEqual(typed(text, "W"), { value: 2200 });
  assert.deepEqual(typed("5 K", "K"), { value: 5 });
  assert.deepEqual(typed("95 c", "°C"), { value: 95 });
  assert.deepEqual(typed("2.2 kW", "W"), { mistake: "“2.2 kW” is not a number in W." });
  assert.deepEqual(typed("", "L"), { mistake: "Wanted is a number in L." });
  assert.deepEqual(typed("some", ""), { mistake: "“some” is not a number." });
});

// 0 °C is 32 °F, 100 °C 212 °F; a US quart 0.946352946 L, a foot 0.3048 m: NIST SP 811, appendix B.8.
test("in US units a number is shown and typed in theirs, and sent in its own", () => inUnits("us", () => {
  const cases = [["°C", 100, "212"], ["K", 10, "18"], ["L", 0.946352946, "1"], ["mm", 25.4, "1"], ["m", 304.8, "1000"], ["W", 2200, "2200"]];
  for (const [unit, value, text] of cases) {
    assert.equal(shown(value, unit), text, unit);
    assert.ok(Math.abs(typed(`${text} ${unitName(unit)}`, unit).value - value) < 0.001, unit);
  }
  assert.match(range(altitude), /^-1640 to 18045 ft$/);
}));

test("times, lists, switches and words are sent as they are meant", () => {
  assert.deepEqual(asValue({ kind: "time" }, "1m30s"), { value: "1m30s" });
  assert.ok("mistake" in asValue({ kind: "time" }, "90"));
  assert.deepEqual(asValue({ kind: "list" }, "A, B,,C"), { value: ["A", "B", "C"] });
  assert.deepEqual(asValue({ kind: "switch" }, "true"), { value: true });
  assert.equal(asText({ kind: "list", value: ["A", "B"] }), "A, B");
});

test("a mistake stands at the setting whose whole key it names", () => {
  const settings = [{ key: "box.level" }, { key: "box.level_k" }];
  const shared = mistakesOf(["box.level_k: 90 is outside 1 to 50", "slots: none"], settings);
  assert.deepEqual([...shared], [["box.level_k", ["90 is outside 1 to 50"]], ["", ["slots: none"]]]);
});

test("a mistake in a file says line and column in the words of the page", () => {
  assert.deepEqual(readable(['ribs:3: column "length_mm": "x" is no number', "ribs: no rib in it"]),
    ['Line 3, length: "x" is no number', "ribs: no rib in it"]);
});

test("a length that is not allowed is told in the units of who typed it", () => {
  assert.equal(inTheirUnits("991177 is outside 50 to 20000"), "991177 mm is outside 50 mm to 20000 mm.");
  assert.equal(inTheirUnits("empty; a number from 50 to 20000 belongs here"), "empty; a number from 50 to 20000 belongs here");
  measureIn("us");
  try {
    assert.equal(inTheirUnits("25.4 is outside 50.8 to 20320"), "1 in is outside 2 in to 800 in.");
  } finally {
    measureIn("metric");
  }
});

test("a column of the file is found among the fields", () => {
  assert.deepEqual(["length_mm", "thickness_mm", "bend", "rib"].map(fieldOf), ["length", "thickness", "bend", "rib"]);
});

test("test bends go out and come back", () => {
  const csv = "exposure_min,outcome,stick,thickness_mm,bend,where\n4.5,supple,A,6.5,hard,\n8,cracked,A,6.5,hard,outside";
  assert.equal(bendsFile(bendsFrom(csv)).csv, csv);
  assert.equal(bendsFile([{ ...bendsFrom(csv)[0], heat: "soon" }]).mistakes.length, 1);
  assert.equal(bendsFile([]).csv, "exposure_min,outcome");
});

test("a fraction from the keypad is set off from the inches before it", () => {
  assert.deepEqual([joined("37", "1/4"), joined("", "1/4"), joined("37 5", "/16"), joined("3", "7")], [" 1/4", "1/4", "/16", "7"]);
});

test("rounds of a dry run are kept as they come; those that nobody saw are skipped, a new run begins anew", () => {
  let r = takeRounds([], 0, { on: true, rounds: 0 });
  r = takeRounds(r.seen, r.before, { on: true, rounds: 1, last_s: 40 });
  r = takeRounds(r.seen, r.before, { on: true, rounds: 1, last_s: 40 });
  r = takeRounds(r.seen, r.before, { on: true, rounds: 2, last_s: 38 });
  assert.deepEqual(r, { seen: [40, 38], before: 0 });
  assert.deepEqual(takeRounds([], 0, { on: true, rounds: 3, last_s: 35 }), { seen: [35], before: 2 });
  assert.deepEqual(takeRounds(r.seen, r.before, { on: true, rounds: 0 }), { seen: [], before: 0 });
});

test("before the run ends with the first rib, not with a test piece", () => {
  const slots = [{ slot: "A" }, { slot: "B" }];
  assert.equal(beforeRun({ slots, ribs: [{ rib: "1", place: "waiting" }] }), true);
  assert.equal(beforeRun({ slots: [{ slot: "A", rib: "T1" }], ribs: [{ rib: "T1", place: "in", test: true }] }), true);
  assert.equal(beforeRun({ slots, ribs: [{ rib: "1", place: "pulled" }] }), false);
  assert.equal(beforeRun({ slots: [{ slot: "A", rib: "1" }], ribs: [] }), false);
});

const bath = (state, probe) => [{ state, out: true, since_s: 0, says: [], probes: [], places: [] }, { name: "door", says: "", rests: false, ...probe }];

test("after a step into steam each probe tells how slowly it follows, and no reading", () => {
  const [c, p] = bath("kept", { temp_c: 98.75, follows_s: 12.34 });
  const stepped = { ...c, place: "steam" };
  assert.deepEqual(calibration.row(stepped, p), ["door", "12.3 s"]);
  assert.deepEqual(calibration.row(stepped, { ...p, follows_s: undefined }), ["door", "not found"]);
  assert.equal(calibration.columns(stepped).length, 2);
});

test("a probe that is calibrated has in its row what its table has a column for", () => {
  for (const state of ["watching", "keeping", "kept", "doubted"]) {
    const [c, p] = bath(state, { temp_c: 98.75, add_k: 1.2 });
    assert.equal(calibration.row(c, p).length, calibration.columns(c).length, state);
  }
  assert.deepEqual(calibration.row(...bath("watching", { temp_c: 98.75, rests: true })), ["door", "98.75 °C", "at rest"]);
  assert.deepEqual(calibration.row(...bath("watching", {})), ["door", "nothing", "not at rest yet"]);
  assert.deepEqual(calibration.row(...bath("kept", { temp_c: 98.75, add_k: 1.2 })), ["door", "98.75 °C", "+1.20 °C"]);
  assert.deepEqual(calibration.row(...bath("kept", { temp_c: 98.75, add_k: -0.004 })), ["door", "98.75 °C", "+0.00 °C"]);
});

test("in US units: 98.75 °C is 209.75 °F, and 1.2 K are 2.16 °F", () => inUnits("us", () => {
  assert.deepEqual(calibration.row(...bath("kept", { temp_c: 98.75, add_k: -1.2 })), ["door", "209.75 °F", "-2.16 °F"]);
}));
