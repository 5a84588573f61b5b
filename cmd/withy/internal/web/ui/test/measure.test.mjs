// Quantities in both units, by the cases that the program is tested on too; their
// source stands in the file.
import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import test from "node:test";
import { load } from "../load.mjs";

const measure = await load("src/measure.ts");
const cases = JSON.parse(await readFile(new URL("../../../../../../testdata/measures.json", import.meta.url), "utf8"));

/** inUnits does something while those units are in use. */
function inUnits(units, act) {
  measure.measureIn(units);
  try {
    return act();
  } finally {
    measure.measureIn("metric");
  }
}

const says = {
  temperature: (c) => measure.degrees(c.c, c.decimals),
  difference: (c) => measure.difference(c.k, c.decimals),
  length: (c) => measure.length(c.mm / 1000),
  volume: (c) => measure.litres(c.litres),
};

for (const [what, say] of Object.entries(says)) {
  assert.ok(cases[what].length > 0, what);
  for (const c of cases[what]) {
    test(`${what}: ${JSON.stringify(c)}`, () => {
      assert.deepEqual(["metric", "us"].map((units) => inUnits(units, () => say(c))), [c.metric, c.us]);
    });
  }
}

for (const c of cases.parse) {
  test(`typed in ${c.units}: “${c.text}”`, () => {
    const { m, mistake } = inUnits(c.units, () => measure.parseLength(c.text));
    if (c.mm === null) assert.match(mistake, /\.$/);
    else assert.ok(Math.abs(m * 1000 - c.mm) < 1e-9, `${m} ${mistake}`);
  });
}

// NIST SP 811, B.7.1: a tie goes to the even digit.
test("ties", () => {
  assert.deepEqual([0.25, 0.75, -0.25].map((k) => measure.difference(k)), ["0.2 °C", "0.8 °C", "-0.2 °C"]);
  assert.equal(inUnits("us", () => measure.length((62.5 / 64) * 0.0254)), "31/32 in");
});

test("units are known to have changed once", () => {
  assert.deepEqual([measure.measureIn("us"), measure.measureIn("us"), measure.measureIn("metric")], [true, false, true]);
});
