// The line to the daemon: views as they come, and how old the newest is.

import type { View } from "./state";

/** Liveness: no word yet, fresh, connected but nothing new, no connection. */
export type Liveness = "waiting" | "live" | "still" | "lost";

const silence = 2500; // ms without a beat: the line is dead
const stale = 10_000; // ms without a view though the line beats
const longest = 8000; // ms between two tries

export interface Line {
  /** state tells how far the newest view can be trusted, and its age in seconds. */
  state(): { liveness: Liveness; age: number | null; why: string };
}

/**
 * Moment is a point of time by both clocks: the one stands still while a phone
 * sleeps, the other may be set. The longer answer is the safe one.
 */
interface Moment {
  steady: number;
  wall: number;
}

const now = (): Moment => ({ steady: performance.now(), wall: Date.now() });
const since = (m: Moment): number => Math.max(performance.now() - m.steady, Date.now() - m.wall);

/** listen opens the line and keeps it open. */
export function listen(onView: (v: View) => void, onChange: () => void): Line {
  let source: EventSource | null = null;
  let heard = now(); // when the line was opened, or anything last came
  let viewed: Moment | null = null; // when the newest view came
  let connected = false; // something came on this line
  let why = ""; // what the daemon says is wrong with its loop
  let well = true;
  let wait = 500;
  let retry: number | undefined;

  function open(): void {
    clearTimeout(retry);
    retry = undefined;
    source?.close();
    const line = new EventSource("/api/events");
    source = line;
    heard = now();
    connected = false;
    line.addEventListener("view", (e: MessageEvent<string>) => {
      heard = viewed = now();
      connected = true;
      wait = 500;
      onView(JSON.parse(e.data) as View);
      onChange();
    });
    line.addEventListener("beat", (e: MessageEvent<string>) => {
      heard = now();
      connected = true;
      const beat = JSON.parse(e.data) as { well: boolean; why?: string };
      well = beat.well;
      why = beat.why ?? "";
      onChange();
    });
    line.addEventListener("error", again);
  }

  function again(): void {
    source?.close();
    source = null;
    if (retry !== undefined) return;
    retry = setTimeout(open, wait);
    wait = Math.min(wait * 2, longest);
    onChange();
  }

  function wake(): void {
    if (document.visibilityState !== "visible") return;
    if (source === null || since(heard) > silence) {
      wait = 500;
      open();
    }
    onChange();
  }

  function watch(): void {
    if (source !== null && since(heard) > silence) again();
    onChange();
  }

  function state(): { liveness: Liveness; age: number | null; why: string } {
    const silent = source === null || since(heard) > silence;
    if (viewed === null) return { liveness: silent ? "lost" : "waiting", age: null, why };
    const age = since(viewed);
    const fresh = well && age < stale;
    return { liveness: silent || !connected ? "lost" : fresh ? "live" : "still", age: age / 1000, why };
  }

  document.addEventListener("visibilitychange", wake);
  window.addEventListener("pageshow", wake);
  window.addEventListener("online", wake);
  setInterval(watch, 500);
  open();
  return { state };
}
