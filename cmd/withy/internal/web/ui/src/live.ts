// The line to the daemon: views as they come, and how old the newest is.

import { standing } from "./pair";
import type { View } from "./state";

/** Liveness: no word yet, fresh, connected but nothing new, no connection. */
export type Liveness = "waiting" | "live" | "still" | "lost";

const silence = 2500; // ms without a beat: the line is dead
const often = 250; // ms between two looks at the clock: with the silence, people know within 3 s
const stale = 10_000; // ms without a view though the line beats
const [shortest, longest] = [500, 8000]; // ms between two tries

/** Trust is how far the newest view can be trusted. */
export interface Trust {
  liveness: Liveness;
  age: number | null; // s, of the newest view
  why: string; // what the daemon says is wrong with its loop, or why it lets no more pages listen
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

/** Line is the stream of views, kept open whatever happens to it. */
export class Line {
  private source: EventSource | null = null;
  private heard = now(); // when the line was opened, or anything last came
  private viewed: Moment | null = null; // when the newest view came
  private connected = false; // something came on this line
  private beat = { well: true, why: "" };
  private refused = ""; // why no line was given, where the daemon said so
  private wait = shortest;
  private retry: number | undefined;

  /** onView is given every view; onChange is called whenever trust may have changed. */
  constructor(
    private readonly onView: (v: View) => void,
    private readonly onChange: () => void,
  ) {
    document.addEventListener("visibilitychange", () => this.wake());
    window.addEventListener("pageshow", () => this.wake());
    window.addEventListener("online", () => this.wake());
    setInterval(() => this.watch(), often);
    this.open();
  }

  /** trust tells how far the newest view can be trusted now. */
  trust(): Trust {
    const silent = this.source === null || since(this.heard) > silence;
    const { well } = this.beat;
    const why = this.refused || this.beat.why;
    if (this.viewed === null) return { liveness: silent ? "lost" : "waiting", age: null, why };
    const age = since(this.viewed);
    const fresh = well && age < stale;
    return { liveness: silent || !this.connected ? "lost" : fresh ? "live" : "still", age: age / 1000, why };
  }

  private open(): void {
    clearTimeout(this.retry);
    this.retry = undefined;
    this.source?.close();
    this.heard = now();
    this.connected = false;
    this.source = new EventSource("/api/events");
    this.source.addEventListener("view", (e: MessageEvent<string>) => {
      this.came();
      this.viewed = this.heard;
      this.onView(JSON.parse(e.data) as View);
      this.onChange();
    });
    this.source.addEventListener("beat", (e: MessageEvent<string>) => {
      this.came();
      this.beat = { why: "", ...(JSON.parse(e.data) as { well: boolean; why?: string }) };
      this.onChange();
    });
    this.source.addEventListener("error", () => {
      if (!this.connected) void this.askWhy();
      this.again();
    });
  }

  /** askWhy finds out why no line was given: browsers do not tell what was answered to one. */
  private async askWhy(): Promise<void> {
    try {
      const response = await fetch("/api/events", { signal: AbortSignal.timeout(silence) });
      if (response.status === 401) void standing();
      this.refused = response.ok ? "" : ((await response.json()) as { error: string }).error;
      if (response.ok) await response.body?.cancel();
    } catch {
      this.refused = ""; // nobody is there
    }
    this.onChange();
  }

  private came(): void {
    this.heard = now();
    this.connected = true;
    this.refused = "";
    this.wait = shortest;
  }

  /** again gives this line up and opens another after a while, longer each time. */
  private again(): void {
    this.source?.close();
    this.source = null;
    if (this.retry !== undefined) return;
    this.retry = setTimeout(() => this.open(), this.wait);
    this.wait = Math.min(this.wait * 2, longest);
    this.onChange();
  }

  /** wake opens a line at once when somebody looks at the page again: a phone's line dies in its sleep without a word. */
  private wake(): void {
    if (document.visibilityState !== "visible") return;
    if (this.source === null || since(this.heard) > silence) {
      this.wait = shortest;
      this.open();
    }
    this.onChange();
  }

  private watch(): void {
    if (this.source !== null && since(this.heard) > silence) this.again();
    this.onChange();
  }
}
