import { judge } from '../../src/core/judge.js';
import { RunReader } from '../../src/core/run-reader.js';
import { feed } from '../../src/core/judge.js';
import type { FinishedRun } from '../../src/core/run-reader.js';
import type { Store } from '../../src/records/store.js';
import type { ScenarioRun } from '../../simulators/run-scenario.js';

/** Pause between two recorded runs, s. */
const pause = 30;

/**
 * Records runs of the simulated bench into a store as a daemon would have: samples, judged outcome, seal.
 * @param start s on the store's clock
 */
export function recordScenarios(store: Store, bench: string, runs: readonly ScenarioRun[], wall: number, start = 100): void {
  const channel = store.channel(bench, 'pressure', 'bar').id;
  let at = start;
  for (const { samples, plan, thresholds, scenario } of runs) {
    const [found] = finished(samples, plan, thresholds);
    if (found === undefined) throw new Error(`no run in ${scenario.name}: ${judge(samples, plan, thresholds)[0]?.verdict}`);
    // Moved as a whole: the reader works on a clock of its own, so the outcome only moves with it.
    const time = samples.time.map((t) => Number((t + at).toFixed(6)));
    const [moved] = finished({ ...samples, time }, plan, thresholds);
    if (moved === undefined) throw new Error('no run once moved');
    const writer = store.beginSegment(channel, { time: at, wall: wall + at * 1000 });
    time.forEach((t, i) => writer.append(t, samples.pressure[i] ?? NaN, samples.flags?.[i] ?? 0));
    writer.flush();
    const number = store.openRun({
      channel, from: moved.from, plan: store.keepVersion('plan', plan), thresholds: store.keepVersion('thresholds', thresholds), instrument: null,
    });
    store.addEvents(channel, moved.outcome.events, number);
    const last = time.at(-1) ?? at;
    store.finishRun(number, { to: moved.to, outcome: moved.outcome, reading: { from: time[0] ?? at, to: last, lid: null } });
    at = Math.ceil(last) + pause;
  }
}

function finished(samples: ScenarioRun['samples'], plan: ScenarioRun['plan'], thresholds: ScenarioRun['thresholds']): FinishedRun[] {
  const found: FinishedRun[] = [];
  const reader = new RunReader({ plan, thresholds }, { runStarted: () => undefined, found: () => undefined, runEnded: (run) => void found.push(run) });
  feed(reader, samples);
  reader.end();
  return found;
}
