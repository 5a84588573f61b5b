// What the voice says, as text. It says each thing once, for as long as that stands,
// and nothing at all while danger sounds, but what the danger is.

import { device } from "./device";
import { gathered } from "./gathered";
import { alarmKey, keepAway, type Alarm, type Call, type Mark, type View } from "./state";
import { voice as words } from "./device-words";
import { alarmTitle } from "./words";

const soon = 15; // s before a pull at which its first sound comes
const full = 10; // s before a pull in which hands are full

/** Saying is one thing to say. */
export interface Saying {
  key: string; // as long as it is the same, so is the thing
  says: string;
  alarm?: Alarm; // that is said by its title
}

/** Item is a saying that stands, to be said now or later, or not any more. */
type Item = Saying & { now: boolean; past?: boolean };

/** Keys are those of sayings. */
export type Keys = ReadonlySet<string>;

/** Spoken is what a view has to say. */
export interface Spoken {
  fresh: Saying[]; // that was not said yet
  said: Keys; // what was, or now will be, and still stands
  true: Keys; // what may be said now: anything else that waits is out of date
}

/** spoken returns what a view has to say, after what was said before. */
export function spoken(before: Keys, v: View, names: Record<Mark, string> = device().sides): Spoken {
  const items = quietInDanger([...alarms(v), ...answer(v), ...calls(v, names)]);
  const keys = (some: Item[]): Keys => new Set(some.map((i) => i.key));
  return {
    fresh: items.filter((i) => i.now && !before.has(i.key)),
    said: keys(items.filter((i) => i.now || i.past || before.has(i.key))),
    true: keys(items.filter((i) => i.now)),
  };
}

/** aloud is what is said of sayings, one after the other: alarms of one kind once, with all that they are on. */
export function aloud(sayings: Saying[]): string {
  const lines = gathered(sayings.flatMap((s) => s.alarm ?? []));
  return sayings.flatMap((s) => {
    if (s.alarm === undefined) return s.says;
    const line = lines.find(([first]) => first === s.alarm);
    return line ? words.sentence(alarmTitle(...line)) : [];
  }).join(" ");
}

/** quietInDanger puts everything off but danger, while there is any. */
function quietInDanger(items: Item[]): Item[] {
  const danger = items.some((i) => i.key.startsWith("danger"));
  return danger ? items.map((i) => ({ ...i, now: i.key.startsWith("danger") })) : items;
}

function alarms(v: View): Item[] {
  const handsFull = (v.status.calls ?? []).some((c) => c.do === "pull" && c.in_s !== undefined && c.in_s > 0 && c.in_s <= full);
  return (v.alarms ?? []).filter((a) => a.state === "raised" && a.hushed !== true).map((a) => ({
    key: `${a.sound || "lamp"} ${alarmKey(a)} ${a.count} ${alarm(a).says}`, // one whose words have turned is said again
    ...alarm(a),
    now: !(a.sound === "kettle" && handsFull),
  }));
}

/** alarm is its title; the kettle's says what to do, for that is why it calls. */
function alarm(a: Alarm): Pick<Saying, "says" | "alarm"> {
  const first = a.do?.[0];
  return a.sound === "kettle" && first !== undefined ? { says: first } : { says: words.sentence(alarmTitle(a)), alarm: a };
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
  return [...load, ...round(v), ...list.filter((c) => c.do === "pull" && c.in_s !== undefined && c.in_s <= soon).flatMap((c) => pulls(c, names))];
}

/** round is a round of a dry run that is called, as a pull would be. */
function round(v: View): Item[] {
  const call = v.status.calls?.[0];
  return call?.do === "dry" && (call.in_s ?? 0) <= 0 ? [{ key: `dry ${v.status.dry?.rounds ?? 0}`, says: words.dry, now: true }] : [];
}

function loads(c: Call): Item[] {
  return [{ key: `load ${c.rib} ${c.slot}`, says: words.load(c), now: true }];
}

/** pulls says that a rib soon is due; then which it is and from where, its way round and how long it keeps. */
function pulls(c: Call, names: Record<Mark, string>): Item[] {
  const due = (c.in_s ?? 0) <= 0;
  const item = (kind: string, says: string): Item => ({ key: `${kind} ${c.rib} ${c.slot}`, says, now: due });
  return [
    { ...item("soon", words.soon(c)), now: !due, past: due },
    item("pull", words.pull(c)),
    ...(c.mark ? [item(`mark ${c.mark}`, words.mark(c.mark, names[c.mark]))] : []),
    c.too_far ? item("gently", words.gently) : item("good", words.good(c.good_s)),
    ...(c.sure ? [] : [item("unsure", words.notSure)]),
  ];
}
