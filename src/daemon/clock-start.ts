import type { Store } from '../records/store.js';

/** A time in whole microseconds, s. */
export const micro = (time: number): number => Math.round(time * 1e6) / 1e6;

/**
 * s that the trace's clock shows now: after everything stored, and as much later than the newest sample as the calendar
 * says, so that the gap of a restart has its true length.
 * @param wall ms since 1970
 */
export function clockStartOf(store: Store, channels: Iterable<number>, wall: number): number {
  const later = [...channels].map((channel) => {
    const newest = store.newestSamples(channel, 1).time[0];
    return newest === undefined ? 0 : newest + (wall - store.wallOf(channel, newest)) / 1000;
  });
  return micro(Math.max(store.clockStart(), ...later));
}
