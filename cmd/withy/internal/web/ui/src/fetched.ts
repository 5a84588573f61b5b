// What is asked of the daemon once and kept, and asked again when it may have changed.

const patience = 15_000; // ms that an answer is waited for
const pause = 10_000; // ms before something that failed is asked for again

const listeners: (() => void)[] = [];

/** onFetched calls came after each answer, and each time none came. */
export function onFetched(came: () => void): void {
  listeners.push(came);
}

/** Fetched is one such thing. */
export class Fetched<T> {
  value: T | null = null;
  failed = false;
  why: string[] = []; // what the daemon says to it, where it says no
  version = 0; // another when there is something else to be shown
  private stale = true;
  private askedAt = -pause;
  private asking = false;

  constructor(
    private readonly path: () => string,
    private readonly read: (r: Response) => Promise<T>,
  ) {}

  /** get returns what is kept, null before anything is, and sees to it that it is asked for. */
  get(): T | null {
    if (this.stale && !this.asking && performance.now() - this.askedAt >= pause) void this.ask();
    return this.value;
  }

  /** changed says that it may be another now: it is asked for the next time that anybody wants it. */
  changed(): void {
    this.stale = true;
    this.askedAt = -pause;
  }

  private async ask(): Promise<void> {
    [this.asking, this.stale, this.askedAt] = [true, false, performance.now()];
    try {
      const response = await fetch(this.path(), { signal: AbortSignal.timeout(patience) });
      if (response.ok) this.came(await this.read(response));
      else this.refused(await reasons(response));
    } catch {
      this.refused([]);
    }
    this.asking = false;
    for (const came of listeners) came();
  }

  private came(value: T): void {
    if (this.failed || JSON.stringify(value) !== JSON.stringify(this.value)) this.version++;
    [this.value, this.failed, this.why] = [value, false, []];
  }

  private refused(why: string[]): void {
    if (!this.failed || why.join() !== this.why.join()) this.version++;
    [this.failed, this.stale, this.why] = [true, true, why];
  }
}

async function reasons(response: Response): Promise<string[]> {
  const { error, mistakes } = (await response.json()) as { error?: string; mistakes?: string[] };
  return mistakes && mistakes.length > 0 ? mistakes : error ? [error] : [];
}
