// Quantities in both units. Factors and worked values: NIST SP 811 (2008), appendix B.8
// and B.9: 1 in = 25.4 mm, 1 gal = 3.785 411 784 L, t/°F = 1.8 t/°C + 32.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "../load.mjs";

const measure = await load("src/measure.ts");

/** says compares what is said in metric and in US units. */
function says(name, say, cases) {
  for (const [value, metric, us] of cases) {
    test(`${name} ${value}`, () => {
      measure.measureIn("metric");
      assert.equal(say(value), metric);
      measure.measureIn("us");
      assert.equal(say(value), us);
      measure.measureIn("metric");
    });
  }
}

says("a temperature of", (c) => measure.degrees(c), [
  [100, "100.0 °C", "212.0 °F"], [0, "0.0 °C", "32.0 °F"], [-40, "−40.0 °C", "−40.0 °F"], [98.6, "98.6 °C", "209.5 °F"], [-0.04, "0.0 °C", "31.9 °F"],
]);
says("a difference of", measure.difference, [[1, "1.0 °C", "1.8 °F"], [0, "0.0 °C", "0.0 °F"], [-2.5, "−2.5 °C", "−4.5 °F"]]);
says("a volume of", measure.litres, [
  [0, "0.0 L", "0.0 qt"], [1.5, "1.5 L", "1.6 qt"], [3.785411784, "3.8 L", "1.0 gal"], [3.7, "3.7 L", "3.9 qt"], [3.75, "3.8 L", "1.0 gal"], [7.570823568, "7.6 L", "2.0 gal"],
]);
says("a length of", measure.length, [
  [0.0254, "0.03 m", "1 in"], [0.9477375, "0.95 m", "37 5/16 in"], [0.35, "0.35 m", "13 25/32 in"], [0, "0.00 m", "0 in"], [-0.00635, "−0.01 m", "−1/4 in"],
  [0.02538, "0.03 m", "1 in"], // 63.95 parts of 64
]);
says("a thickness of", (m) => measure.thickness(m), [[0.0065, "6.5 mm", "1/4 in"], [0.006747, "6.7 mm", "17/64 in"]]);

test("units are known to have changed once", () => {
  assert.deepEqual([measure.measureIn("us"), measure.measureIn("us"), measure.measureIn("metric")], [true, false, true]);
});

const typed = [
  ["us", "37 5/16", 947.7375], ["us", "37-5/16 in", 947.7375], ["us", "37 5/16\"", 947.7375], ["us", "37.3125", 947.7375], ["us", "3' 1 5/16\"", 947.7375],
  ["us", "3 ft 1 5/16", 947.7375], ["us", "5/16", 7.9375], ["us", "3 feet", 914.4], ["us", " 943 MM ", 943], ["us", "0,5 inch", 12.7], ["us", "12''", 304.8],
  ["metric", "943", 943], ["metric", "94.3 cm", 943], ["metric", "0,943 m", 943], ["metric", "37 5/16 in", 947.7375], ["metric", "20 m", 20000],
];
for (const [units, text, mm] of typed) {
  test(`typed in ${units}: ${text}`, () => {
    measure.measureIn(units);
    const { m, mistake } = measure.parseLength(text);
    measure.measureIn("metric");
    assert.equal(mistake, undefined);
    assert.ok(Math.abs(m * 1000 - mm) < 1e-9, String(m));
  });
}

const mistaken = [
  ["metric", "", "no length"], ["metric", "37 5/16", "no length"], ["us", "37 17/16", "no length"], ["us", "5/0", "no length"], ["us", "37 5 16", "no length"],
  ["us", "long", "no length"], ["metric", "-4", "no length"], ["metric", "0", "more than nothing"], ["metric", "20.1 m", "20.00 m at the most"], ["us", "800", "787 13/32 in at the most"],
  ["metric", "1e3", "no length"],
];
for (const [units, text, says] of mistaken) {
  test(`not typed in ${units}: “${text}”`, () => {
    measure.measureIn(units);
    const { mistake } = measure.parseLength(text);
    measure.measureIn("metric");
    assert.ok(mistake?.includes(says), mistake);
  });
}
