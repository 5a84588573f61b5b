// All that before.test.mjs looks at, in one bundle, so that the units in use are the same for all of it.
export { bendsFile, bendsFrom } from "../src/bend-table";
export { calibration } from "../src/before-words";
export { readDraft } from "../src/draft";
export { takeRounds } from "../src/dry";
export { joined } from "../src/keypad";
export { measureIn } from "../src/measure";
export { inTheirUnits, readable } from "../src/mistakes";
export { shown, typed, unitName } from "../src/quantity";
export { beforeRun } from "../src/state";
export * from "../src/table";
export { asText, asValue, drafted, draftText, mistakesOf, range } from "../src/values";
