// What a screen keeps for itself, and what follows from how the boat lies before it.
import assert from "node:assert/strict";
import test from "node:test";
import { load } from "../load.mjs";

const { readDevice } = await load("src/device.ts");
const { along, bowEdge, sideEdge } = await load("src/lie.ts");
const { deviceName } = await load("src/pair.ts");
const { inHand } = await load("src/hand.ts");

// By hand, with a model boat on the table; top is away from whoever looks.
const lies = [
  ["down", "away", "left"], ["down", "towards", "right"], ["down", "left", "bottom"], ["down", "right", "top"],
  ["up", "away", "right"], ["up", "towards", "left"], ["up", "left", "top"], ["up", "right", "bottom"],
];
const compass = { top: [0, 1], bottom: [0, -1], left: [-1, 0], right: [1, 0] };

for (const [keel, bow, port] of lies) {
  test(`keel ${keel}, bow ${bow}: port is ${port}`, () => {
    assert.equal(sideEdge({ keel, bow }, "port"), port);
  });
  // Port is up × ahead, by the boat's own up: the right-hand rule.
  test(`keel ${keel}, bow ${bow}: by the right-hand rule`, () => {
    const up = keel === "down" ? 1 : -1;
    const [x, y] = compass[bowEdge({ keel, bow })];
    const side = (s) => compass[sideEdge({ keel, bow }, s)].map((n) => n + 0);
    assert.deepEqual(side("port"), [-up * y + 0, up * x + 0]);
    assert.deepEqual(side("starboard"), [up * y + 0, -up * x + 0]);
  });
}

test("the keel runs across when the bow is to a side", () => {
  assert.deepEqual(["away", "towards", "left", "right"].map((bow) => along({ keel: "down", bow })), [false, false, true, true]);
});

const first = {
  place: "box", look: "auto", units: "shop", voice: true, rate: 1, keys: {},
  lies: { keel: "down", bow: "away" }, sides: { port: "", starboard: "" },
};
const kept = {
  place: "boat", look: "sun", units: "us", voice: false, rate: 1.25, keys: { cracked: "F7" },
  lies: { keel: "up", bow: "left" }, sides: { port: "window side", starboard: "wall side" },
};
const texts = [
  ["nothing", null, first],
  ["all of it", JSON.stringify(kept), kept],
  ["not JSON", "{", first],
  ["another thing", "7", first],
  ["null", "null", first],
  ["words that there are not", JSON.stringify({ place: "shed", look: 3, rate: 99, keys: { next: 5, jump: "F1" }, lies: "up", sides: { port: ["x"] } }), first],
  ["one good among bad", JSON.stringify({ place: "boat", lies: { keel: "up", bow: "north" } }), { ...first, place: "boat", lies: { keel: "up", bow: "away" } }],
];

for (const [name, text, want] of texts) {
  test(`kept by the screen: ${name}`, () => assert.deepEqual(readDevice(text), want));
}

// Times of a thin rib out of the box, made up for the test.
const out_of_box = { bend_s: 10, shape_s: 20, give_s: 60, adjust_s: 600 };
const pulled = (rib, pulled_s, more = {}) => ({ rib, place: "pulled", pulled_s, mark: "port", fitted: false, ...more });
const hands = [
  ["to be bent", 104, {}, ["7", "bend", 6]],
  ["to be shaped", 110, {}, ["7", "shape", 10]],
  ["still gives", 125, {}, ["7", "give", 35]],
  ["gives no more", 160, {}, undefined],
  ["told to be in", 104, { fitted: true }, undefined],
  ["told to be stiff", 104, { outcome: "stiff" }, undefined],
  ["back in the box", 104, { place: "in" }, undefined],
];

for (const [name, elapsed_s, more, want] of hands) {
  test(`the rib in hand: ${name}`, () => {
    const ribs = [pulled("6", 20, { fitted: true }), pulled("7", 100, more)];
    const h = inHand({ elapsed_s, out_of_box, ribs });
    assert.deepEqual(h && [h.rib, h.stage, h.left_s], want);
  });
}

const { looks } = await load("src/look.ts");
const { does, mayBeSet, withKey } = await load("src/press.ts");
const { chart } = await load("src/hull.ts");

test("the look that was chosen, or the device's own", () => {
  const wishes = [[true, true], [true, false], [false, true], [false, false]].map(([light, contrast]) => ({ light, contrast }));
  assert.deepEqual(wishes.map((w) => looks("auto", w)), ["sun", "light", "dark", "dark"]);
  for (const chosen of ["light", "dark", "sun"]) assert.deepEqual(wishes.map((w) => looks(chosen, w)), Array(4).fill(chosen));
});

const key = (code, more = {}) => ({ code, repeat: false, ctrlKey: false, altKey: false, metaKey: false, ...more });
const pedals = { next: "F7", cracked: "KeyB" };

test("a key does what it was set to, once for as long as it is down", () => {
  assert.equal(does(pedals, key("F7")), "next");
  assert.equal(does(pedals, key("KeyB")), "cracked");
  assert.equal(does(pedals, key("KeyB", { repeat: true })), undefined);
  assert.equal(does(pedals, key("KeyB", { ctrlKey: true })), undefined);
  assert.equal(does(pedals, key("KeyC")), undefined);
  assert.equal(does({}, key("F7")), undefined);
});

test("a key does one thing only", () => {
  assert.deepEqual(withKey(pedals, "stop", "F7"), { cracked: "KeyB", stop: "F7" });
  assert.deepEqual(withKey(pedals, "next", "F9"), { cracked: "KeyB", next: "F9" });
  assert.deepEqual(withKey(pedals, "next", ""), { cracked: "KeyB" });
});

test("keys that the page is worked with do nothing else", () => {
  assert.deepEqual(["Tab", "Enter", "Space", "Escape", "ShiftLeft", "ControlRight", ""].filter(mayBeSet), []);
  assert.deepEqual(["F7", "KeyB", "PageDown", "ArrowRight"].filter((k) => !mayBeSet(k)), []);
});

for (const [keel, bow, port] of lies) {
  test(`the drawing of a boat with keel ${keel}, bow ${bow}`, () => {
    const { wide, high, at } = chart(200, { keel, bow });
    const [[x, y], [px, py], [sx, sy]] = [at(0, 0), at(0, 50), at(200, 0)];
    // The bow lies in its own half and the stern in the other; port by the table above.
    const far = { away: sy - y, towards: y - sy, left: sx - x, right: x - sx }[bow];
    assert.ok(Math.abs(far - 200) < 1e-9);
    assert.deepEqual([px - x, y - py], compass[port].map((n) => n * 50 + 0));
    for (const [u, v] of [[x, y], [sx, sy]]) assert.ok(u > 0 && v > 0 && u < wide && v < high);
  });
}

test("the box knows a device by what it is", () => {
  // User-Agent strings from memory, as such browsers send them.
  const agents = {
    "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 Mobile/15E148 Safari/604.1": "iPhone",
    "Mozilla/5.0 (iPad; CPU OS 12_2 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/12.1 Mobile/15E148 Safari/604.1": "iPad",
    "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/140.0.0.0 Mobile Safari/537.36": "Android",
    "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 Safari/605.1.15": "Mac",
    "Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0": "Linux",
    "something else": "browser",
  };
  for (const [agent, name] of Object.entries(agents)) assert.equal(deviceName(agent), name);
});
