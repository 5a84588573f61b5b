// Telling the daemon what the crew did.

import { byID, setText } from "./dom";
import type { CrewEvent, Told } from "./state";
import { tellFailed, toldSentence } from "./words";

const tries = 3;
const pause = 700; // ms between them
const shown = 6000; // ms that an answer stays, at the least
const reading = 80; // ms for each character of it
const bounce = 3000; // ms in which the same event is a wet finger, not a second press

let hide: number | undefined;
let last = { what: "", at: -bounce };

const listeners: ((event: CrewEvent) => void)[] = [];

/** onTold calls hear with every event of this page that was taken. */
export function onTold(hear: (event: CrewEvent) => void): void {
  listeners.push(hear);
}

/**
 * tell sends one event and shows the answer. It is sent again under the same id
 * where the line fails, and taken once. It returns why it was not taken, "" if it was.
 */
export async function tell(event: Told): Promise<string> {
  const what = JSON.stringify(event);
  if (what === last.what && performance.now() - last.at < bounce) return "";
  last = { what, at: performance.now() };
  return tellAll([event], toldSentence(event));
}

/** tellAll sends several events, one after the other until one is not taken, and answers once. */
export async function tellAll(events: Told[], says: string): Promise<string> {
  for (const event of events) {
    const whole: CrewEvent = { ...event, id: newID(), by: "page" };
    const problem = await sendUntilTaken(JSON.stringify(whole));
    if (problem !== "") {
      last.what = "";
      answer(problem, true);
      return problem;
    }
    for (const hear of listeners) hear(whole);
  }
  answer(says, false);
  return "";
}

async function sendUntilTaken(body: string): Promise<string> {
  for (let n = 1; ; n++) {
    const problem = await send(body);
    if (problem === null) return "";
    if (!problem.again || n === tries) return problem.says;
    await new Promise((resume) => setTimeout(resume, pause));
  }
}

/** send returns null once the event is on disk. */
async function send(body: string): Promise<{ says: string; again: boolean } | null> {
  try {
    const response = await fetch("/api/event", {
      method: "POST",
      headers: { "Content-Type": "application/json" },
      body,
      signal: AbortSignal.timeout(12_000),
    });
    if (response.ok) return null;
    const problem = (await response.json()) as { error: string };
    return { says: problem.error, again: response.status === 503 };
  } catch {
    return { says: tellFailed, again: true };
  }
}

/** newID makes an id; crypto.randomUUID is missing over plain HTTP. */
function newID(): string {
  return Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");
}

function answer(text: string, bad: boolean): void {
  const node = byID("answer");
  setText(node, text);
  node.classList.toggle("bad", bad);
  node.hidden = false;
  clearTimeout(hide);
  hide = setTimeout(() => (node.hidden = true), Math.max(shown, text.length * reading));
}
