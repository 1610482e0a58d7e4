/** Time as drivers and acquisition see it: it never steps back, and tests replace it. */
export interface Clock {
  /** Monotonic seconds; only differences mean something. */
  now(): number;
  /** Calls `action` once after `delay` seconds; the returned function cancels it. */
  after(delay: number, action: () => void): () => void;
}

/** The computer's monotonic clock. Delays are a few minutes at most here, far below what a Node timer can take. */
export const systemClock: Clock = {
  now: () => performance.now() / 1000,
  after(delay, action) {
    const timer = setTimeout(action, Math.max(0, delay) * 1000);
    return () => clearTimeout(timer);
  },
};
