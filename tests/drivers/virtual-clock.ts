import type { Clock } from '../../drivers/clock.js';

/** A clock that moves only when told to, so that hours pass in a moment and every run is the same. */
export class VirtualClock implements Clock {
  #now = 0;
  #order = 0;
  readonly #timers = new Map<number, { readonly at: number; readonly action: () => void }>();

  now(): number {
    return this.#now;
  }

  after(delay: number, action: () => void): () => void {
    const key = this.#order++;
    this.#timers.set(key, { at: this.#now + Math.max(0, delay), action });
    return () => void this.#timers.delete(key);
  }

  /** Timers that are waiting. */
  get waiting(): number {
    return this.#timers.size;
  }

  /** Moves to `time` (s), firing what falls due on the way, in order. */
  to(time: number): void {
    for (;;) {
      const next = [...this.#timers].filter(([, timer]) => timer.at <= time).sort((a, b) => a[1].at - b[1].at || a[0] - b[0])[0];
      if (next === undefined) break;
      this.#timers.delete(next[0]);
      this.#now = Math.max(this.#now, next[1].at);
      next[1].action();
    }
    this.#now = Math.max(this.#now, time);
  }

  /** The computer is busy: time passes and no timer fires; then those that are due do, late, but none that they set. */
  stall(seconds: number): void {
    this.#now += seconds;
    const due = [...this.#timers].filter(([, timer]) => timer.at <= this.#now).sort((a, b) => a[1].at - b[1].at || a[0] - b[0]);
    for (const [key, timer] of due) {
      if (this.#timers.delete(key)) timer.action();
    }
  }

  pass(seconds: number): void {
    this.to(this.#now + seconds);
  }
}
