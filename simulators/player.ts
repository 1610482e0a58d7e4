import type { Trace } from '../src/core/trace.js';
import { contactsAt } from './contacts.js';
import type { Contacts, Reading } from './play.js';
import { run } from './run-scenario.js';
import type { Scenario } from './scenario.js';

export { demoPlan, demoPlaylist, demoThresholds, testPlan, testPlaylist, testThresholds } from './scenarios/playlists.js';

/** The readings of a recording, from `start` s on; `contacts` tells the switches at a time of the recording. */
export function* readingsOf(samples: Trace, start = 0, contacts?: (time: number) => Contacts): Generator<Reading> {
  for (let i = 0; i < samples.time.length; i++) {
    const time = samples.time[i] ?? 0;
    const reading = { time: start + time, pressure: samples.pressure[i] ?? 0, flags: samples.flags?.[i] ?? 0 };
    yield contacts === undefined ? reading : { ...reading, contacts: contacts(time) };
  }
}

/** Told when a scenario of a playlist begins; `start` is its time 0 on the stream's clock, s. */
export type Announce = (scenario: Scenario, seed: number, start: number) => void;

/**
 * Runs of a playlist one after the other on one ascending clock, each vented for some seconds at its begin and end.
 * With `rounds` Infinity it never ends; every round takes the next seed. Runs are computed only when their turn comes.
 */
export function* playlistStream(playlist: readonly Scenario[], options: { readonly seed?: number; readonly rounds?: number; readonly announce?: Announce } = {}): Generator<Reading> {
  const { seed = 1, rounds = 1, announce } = options;
  let start = 0;
  for (let round = 0; round < rounds && playlist.length > 0; round++) {
    for (const scenario of playlist) {
      const { samples, setup, bench } = run(scenario, seed + round);
      announce?.(scenario, seed + round, start);
      const from = setup.cut?.from === undefined ? 0 : bench.timeOf(setup.cut.from);
      yield* readingsOf(samples, start, (time) => contactsAt(bench, from + time));
      start += (samples.time.at(-1) ?? 0) + 1 / setup.transducer.rate;
    }
  }
}
