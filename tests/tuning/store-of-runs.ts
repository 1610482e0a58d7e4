import type { Outcome } from '../../src/core/outcome.js';
import { RunReader } from '../../src/core/run-reader.js';
import type { Trace } from '../../src/core/trace.js';
import { openStore } from '../../src/records/store.js';
import type { ScenarioRun } from '../../simulators/run-scenario.js';

/** 3 February 2026, 08:00 UTC, in ms since 1970. */
const morning = Date.UTC(2026, 1, 3, 8);

export const testSoftware = 'dwellkeeper test';

/** s of idle reading after each run, so that every run is over in what was read. */
const idle = 70;

/** The trace of a scenario on the clock of a store, with idle time behind it. */
export function storedTrace({ samples, setup }: ScenarioRun, offset: number): Trace & { readonly flags: Uint8Array } {
  const last = samples.time[samples.time.length - 1] ?? 0;
  const rest = Array.from({ length: idle * 10 }, (_, i) => ({ time: last + (i + 1) / 10, pressure: (i % 3) * setup.transducer.resolution }));
  const whole = (t: number) => Math.round((t + offset) * 1e6) / 1e6;
  return {
    time: Float64Array.from([...samples.time, ...rest.map(({ time }) => time)], whole),
    pressure: Float64Array.from([...samples.pressure, ...rest.map(({ pressure }) => pressure)]),
    flags: Uint8Array.from([...(samples.flags ?? new Uint8Array(samples.time.length)), ...rest.map(() => 0)]),
  };
}

export interface StoredRun {
  readonly number: number;
  readonly run: ScenarioRun;
  readonly trace: Trace;
  readonly outcome: Outcome;
}

/** Writes runs as a daemon would have: trace, plan, thresholds, instrument, job, outcome, all sealed. */
export function storeOfRuns(path: string, runs: readonly ScenarioRun[], hoseOf: (run: ScenarioRun) => string = (run) => run.plan.plan): readonly StoredRun[] {
  let wall = morning;
  const { store } = openStore(path, { software: testSoftware, now: () => wall });
  const channel = store.channel('bench 1', 'pressure', 'bar').id;
  let offset = 10;
  const stored: StoredRun[] = [];
  for (const run of runs) {
    const trace = storedTrace(run, offset);
    const { plan, thresholds, setup: { instrument } } = run;
    wall = morning + offset * 1000;
    const writer = store.beginSegment(channel, { time: offset, wall });
    const ended: { from: number; to: number; outcome: Outcome; closed: number }[] = [];
    let at = 0;
    const reader = new RunReader({ plan, thresholds, instrument }, { runStarted: () => undefined, found: () => undefined, runEnded: (found) => ended.push({ ...found, closed: at }) });
    for (let i = 0; i < trace.time.length; i++) {
      at = trace.time[i] ?? NaN;
      writer.append(at, trace.pressure[i] ?? NaN, trace.flags[i] ?? 0);
      reader.step(at, trace.pressure[i] ?? NaN, trace.flags[i] ?? 0);
    }
    writer.flush();
    for (const { from, to, outcome, closed } of ended) {
      const number = store.openRun({ channel, from, plan: store.keepVersion('plan', plan), thresholds: store.keepVersion('thresholds', thresholds), instrument });
      store.addEntry(number, { kind: 'job', order: `A-${number}`, hose: hoseOf(run), assemblies: [`H-${number}`] }, 'J. Doe');
      store.finishRun(number, { to, outcome, reading: { from: trace.time[0] ?? 0, to: closed, lid: null } });
      stored.push({ number, run, trace, outcome });
    }
    offset = Math.ceil((trace.time[trace.time.length - 1] ?? 0) + 5);
  }
  store.compact();
  store.close();
  return stored;
}
