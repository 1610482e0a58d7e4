import type { Store } from '../records/store.js';
import type { RecordedChannel } from './recorded-channels.js';
import type { Recorder } from './recorder.js';

/** @param seconds from the newest reading before to the start */
export const absence = (seconds: number): string => `the program was not running for ${Math.max(0, seconds).toFixed(0)} s`;

/** A mark comes this much after the reading before it (s). */
const justAfter = 1e-6;

/**
 * Says in the traces for how long nobody recorded, so that what a power cut took is a gap that is marked and not only
 * one that can be seen. For a start between runs; a run that was going on is told of it in its own way.
 * @param now s on the store's clock
 */
export function markAbsence(store: Store, channels: ReadonlyMap<string, RecordedChannel>, recorder: Recorder, now: number): void {
  for (const [channel, { id }] of channels) {
    const newest = store.newestSamples(id, 1).time[0];
    if (newest === undefined) continue;
    const text = absence(now - newest);
    recorder.mark({ time: newest + justAfter, kind: 'signal-lost', text }, [channel]);
    recorder.mark({ time: now, kind: 'signal-back', text }, [channel]);
  }
}
