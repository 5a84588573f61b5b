// What the voice says, as text. It says each thing once, for as long as that stands,
// and nothing at all while danger sounds, but what the danger is.

import { device } from "./device";
import { alarmKey, keepAway, type Alarm, type Call, type Mark, type View } from "./state";
import { voice as words } from "./device-words";
import { alarmTitle } from "./words";

const soon = 15; // s before a pull at which its first sound comes
const full = 10; // s before a pull in which hands are full

/** Item is one thing that could be said. */
interface Item {
  key: string; // as long as it is the same, so is the thing
  says: string;
  now: boolean; // or later, if it still stands then
}

/** Memory holds the key of each thing that was said and still stands. */
export type Memory = ReadonlySet<string>;

/** spoken returns what a view has to say that was not said yet, and what is then remembered. */
export function spoken(before: Memory, v: View, names: Record<Mark, string> = device().sides): { says: string[]; memory: Memory } {
  const items = quietInDanger([...alarms(v), ...answer(v), ...calls(v, names)]);
  const fresh = items.filter((i) => i.now && !before.has(i.key));
  return { says: fresh.map((i) => i.says), memory: new Set(items.filter((i) => i.now || before.has(i.key)).map((i) => i.key)) };
}

/** quietInDanger puts everything off but danger, while there is any. */
function quietInDanger(items: Item[]): Item[] {
  const danger = items.some((i) => i.key.startsWith("danger"));
  return danger ? items.map((i) => ({ ...i, now: i.key.startsWith("danger") })) : items;
}

function alarms(v: View): Item[] {
  const handsFull = (v.status.calls ?? []).some((c) => c.do === "pull" && c.in_s !== undefined && c.in_s > 0 && c.in_s <= full);
  return (v.alarms ?? []).filter((a) => a.state === "raised").map((a) => ({
    key: `${a.sound || "lamp"} ${alarmKey(a)} ${a.count}`,
    says: alarm(a),
    now: !(a.sound === "kettle" && handsFull),
  }));
}

/** alarm is its title; the kettle's says what to do, for that is why it calls. */
function alarm(a: Alarm): string {
  const first = a.do?.[0];
  return a.sound === "kettle" && first !== undefined ? first : words.sentence(alarmTitle(a));
}

function answer(v: View): Item[] {
  const { n, says } = v.answer;
  return says ? [{ key: `answer ${n}`, says, now: true }] : [];
}

/** calls are those that are due, and the pull that soon will be; none to a door under pressure. */
function calls(v: View, names: Record<Mark, string>): Item[] {
  if (keepAway(v) || v.status.phase === "blind") return [];
  const list = v.status.calls ?? [];
  const load = list[0]?.do === "load" && (list[0].in_s ?? 0) <= 0 ? loads(list[0]) : [];
  return [...load, ...list.filter((c) => c.do === "pull" && c.in_s !== undefined && c.in_s <= soon).flatMap((c) => pulls(c, names))];
}

function loads(c: Call): Item[] {
  return [{ key: `load ${c.rib} ${c.slot}`, says: words.load(c), now: true }];
}

/** pulls says which rib and slot; once it is due also its way round and how long it keeps. */
function pulls(c: Call, names: Record<Mark, string>): Item[] {
  const which = `${c.rib} ${c.slot}`;
  const ready: Item = { key: `soon ${which}`, says: words.soon(c), now: true };
  if ((c.in_s ?? 0) > 0) return [ready];
  const due: Item[] = [{ ...ready, now: false }, { key: `pull ${which}`, says: words.pull(c), now: true }];
  if (c.mark) due.push({ key: `mark ${which} ${c.mark}`, says: words.mark(c.mark, names[c.mark]), now: true });
  due.push(c.too_far ? { key: `gently ${which}`, says: words.gently, now: true } : { key: `good ${which}`, says: words.good(c.good_s), now: true });
  if (!c.sure) due.push({ key: `unsure ${which}`, says: words.notSure, now: true });
  return due;
}
