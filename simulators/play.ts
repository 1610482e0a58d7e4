import { setTimeout as delay } from 'node:timers/promises';

/** One reading of a stream: time in s (ascending), pressure in bar, `Flag` bits. */
export interface Reading {
  readonly time: number;
  readonly pressure: number;
  readonly flags: number;
}

export interface Pace {
  /** Times real time, > 0; Infinity plays without waiting. */
  readonly speed?: number;
  readonly signal?: AbortSignal;
}

/** ms; shorter waits are not worth a timer. */
const shortest = 1;

/**
 * Plays a stream in real time or faster. Each reading has its place on one schedule that begins with the first, so
 * late timers never add up to drift; after a hiccup the readings that are due come at once. Ends with the stream or
 * when aborted, without throwing.
 */
export async function play(stream: Iterable<Reading>, show: (reading: Reading) => void, pace: Pace = {}): Promise<void> {
  const { speed = 1, signal } = pace;
  let begin = Number.NaN;
  let first = 0;
  for (const reading of stream) {
    if (stopped(signal)) return;
    if (Number.isNaN(begin)) {
      begin = performance.now();
      first = reading.time;
    }
    const wait = begin + ((reading.time - first) * 1000) / speed - performance.now();
    if (wait > shortest) await sleep(wait, signal);
    if (stopped(signal)) return;
    show(reading);
  }
}

const stopped = (signal: AbortSignal | undefined): boolean => signal?.aborted === true;

async function sleep(ms: number, signal: AbortSignal | undefined): Promise<void> {
  try {
    await delay(ms, undefined, signal === undefined ? {} : { signal });
  } catch (error) {
    if (!(error instanceof Error && error.name === 'AbortError')) throw error;
  }
}
