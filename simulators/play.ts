import { setTimeout as delay } from 'node:timers/promises';

/** The switches of a bench. */
export interface Contacts {
  readonly lidClosed: boolean;
  readonly pumpOn: boolean;
  readonly ventOpen: boolean;
}

/** One reading of a stream: time in s (ascending), pressure in bar, `Flag` bits, and the switches where they are known. */
export interface Reading {
  readonly time: number;
  readonly pressure: number;
  readonly flags: number;
  readonly contacts?: Contacts;
}

export interface Pace {
  /** Times real time, > 0; Infinity plays without waiting. */
  readonly speed?: number;
  readonly signal?: AbortSignal;
  /** The real clock and timer unless a test brings its own. */
  readonly clock?: PlayClock;
}

export interface PlayClock {
  /** ms, never stepping back. */
  readonly now: () => number;
  /** Resolves after `ms`, or at once when `signal` aborts. */
  readonly wait: (ms: number, signal: AbortSignal | undefined) => Promise<void>;
}

/** ms; shorter waits are not worth a timer. */
const shortest = 1;

/**
 * Plays a stream in real time or faster. Each reading has its place on one schedule that begins with the first, so
 * late timers never add up to drift; after a hiccup the readings that are due come at once. Ends with the stream or
 * when aborted, without throwing.
 */
export async function play(stream: Iterable<Reading>, show: (reading: Reading) => void, pace: Pace = {}): Promise<void> {
  const { speed = 1, signal, clock = realClock } = pace;
  let begin = Number.NaN;
  let first = 0;
  for (const reading of stream) {
    if (stopped(signal)) return;
    if (Number.isNaN(begin)) {
      begin = clock.now();
      first = reading.time;
    }
    const wait = begin + ((reading.time - first) * 1000) / speed - clock.now();
    if (wait > shortest) await clock.wait(wait, signal);
    if (stopped(signal)) return;
    show(reading);
  }
}

const stopped = (signal: AbortSignal | undefined): boolean => signal?.aborted === true;

const realClock: PlayClock = { now: () => performance.now(), wait: sleep };

async function sleep(ms: number, signal: AbortSignal | undefined): Promise<void> {
  try {
    await delay(ms, undefined, signal === undefined ? {} : { signal });
  } catch (error) {
    if (!(error instanceof Error && error.name === 'AbortError')) throw error;
  }
}
