import { basename } from 'node:path';
import type { Thresholds } from '../core/thresholds.js';
import { notRecorded } from '../records/not-recorded.js';
import type { RunLeftBehind } from '../records/runs-left-behind.js';
import type { Store } from '../records/store.js';
import { outcomeOfAbandoned } from './outcome-of-abandoned.js';

export interface LeftBehind {
  /** The damaged file as it was set aside. */
  readonly file: string;
  readonly runs: readonly RunLeftBehind[];
}

/**
 * Puts runs that were going on in a file that was found damaged at the start on record in the new one, as inconclusive:
 * whoever looks there for the assembly finds that its test does not count, and where its readings are.
 * @param channel in the new store, of a channel's name
 * @param present thresholds in the place of those that cannot be read any more
 * @param now s on the store's clock
 * @returns what is added to the notice; empty where nothing was recorded
 */
export function recordLeftBehind(store: Store, { file, runs }: LeftBehind, channel: (name: string) => number, present: Thresholds, now: number): string {
  const recorded = runs.map((left) => {
    const number = store.openRun({
      channel: channel(left.channel), from: now, instrument: left.instrument,
      plan: left.plan === null ? null : store.keepVersion('plan', left.plan.content, left.plan.source ?? undefined),
      thresholds: store.keepVersion('thresholds', left.thresholds?.content ?? present, left.thresholds?.source ?? undefined),
    });
    for (const { entry, who, why } of left.said) store.addEntry(number, entry, who, why ?? undefined);
    const began = new Date(left.wall).toISOString().replace('T', ' ').slice(0, 16);
    const sentence = `the file of the records was found damaged at the start, after the program had ended while this run went on; it is run ${left.number} in ${basename(file)}, began at ${began} UTC, and none of its readings is here`;
    const run = store.getRun(number);
    if (run === null) throw new Error(`run ${number} is gone`);
    store.interruptRun(number, { to: now, outcome: notRecorded({ ...outcomeOfAbandoned(store, run), notes: [] }, sentence) });
    return number;
  });
  return recorded.length === 0 ? '' : `. On record here: ${recorded.map((number) => `run ${number}`).join(', ')}, inconclusive`;
}
