// Telling the daemon what the crew did.

import { answer } from "./said";
import type { CrewEvent, Told } from "./state";
import { tellFailed, toldSentence } from "./words";

const tries = 3;
const pause = 700; // ms between them
const bounce = 3000; // ms in which the same event is a wet finger, not a second press

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

let line: Promise<string> = Promise.resolve("");

/**
 * tellAll sends several events, one after the other until one is not taken, and answers once. What was told before
 * goes first: a pull must not overtake its load.
 */
export function tellAll(events: Told[], says: string): Promise<string> {
  line = line.catch(() => "").then(() => sendAll(events, says));
  return line;
}

async function sendAll(events: Told[], says: string): Promise<string> {
  for (const event of events) {
    const whole: CrewEvent = { ...event, id: newID(), by: "page" };
    const { problem } = await sendUntilTaken("/api/event", whole);
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

/** Reply is what the daemon made of something that was sent: a problem in a sentence with all mistakes, or "" and its body. */
export interface Reply {
  problem: string;
  mistakes: string[];
  body?: unknown;
}

/** sendUntilTaken sends something with an id of its own until it is on disk, or refused, or three times. */
export function sendUntilTaken(path: string, what: object): Promise<Reply> {
  return untilTaken(path, "application/json", JSON.stringify(what));
}

/** sendTable sends a table in the same way, under an id of its own. */
export function sendTable(path: string, csv: string): Promise<Reply> {
  return untilTaken(`${path}?id=${newID()}`, "text/csv", csv);
}

/** withdraw takes back a table that was sent. */
export function withdraw(path: string): Promise<Reply> {
  return untilTaken(`${path}?id=${newID()}`, "text/csv", null, "DELETE");
}

async function untilTaken(path: string, kind: string, body: string | null, method = "POST"): Promise<Reply> {
  for (let n = 1; ; n++) {
    const { again, ...reply } = await send(path, method, kind, body);
    if (!again || n === tries) return reply;
    await new Promise((resume) => setTimeout(resume, pause));
  }
}

async function send(path: string, method: string, kind: string, body: string | null): Promise<Reply & { again: boolean }> {
  try {
    const response = await fetch(path, {
      method,
      headers: { "Content-Type": kind },
      body,
      signal: AbortSignal.timeout(12_000),
    });
    const reply = (await response.json()) as { error: string; mistakes?: string[] };
    if (response.ok) return { problem: "", mistakes: [], body: reply, again: false };
    return { problem: reply.error, mistakes: reply.mistakes ?? [], again: response.status === 503 };
  } catch {
    return { problem: tellFailed, mistakes: [], again: true };
  }
}

/** newID makes an id; crypto.randomUUID is missing over plain HTTP. */
export function newID(): string {
  return Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, "0")).join("");
}
