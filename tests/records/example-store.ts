import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import type { Outcome, Verdict } from '../../src/core/outcome.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { openStore, type OpenOptions, type Store } from '../../src/records/store.js';
import { heldPressure, morning } from './held-pressure.js';

export { heldPressure, morning };

/** A folder that is gone after the test. */
export function emptyFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-records-'));
  onTestFinished(() => {
    rmSync(folder, { recursive: true, force: true });
  });
  return folder;
}

/** A store that is closed after the test. */
export function opened(path: string, options: Partial<OpenOptions> = {}): Store {
  const { store } = openStore(path, { software: 'dwellkeeper test', now: () => morning, ...options });
  onTestFinished(() => {
    store.close();
  });
  return store;
}

export function outcomeOf(verdict: Verdict, note = 'as the test wants it'): Outcome {
  return {
    verdict,
    findings: [
      {
        rule: 'minimum', outcome: verdict === 'pass' ? 'met' : 'undecided', measured: 548.2, limit: 530, unit: 'bar',
        uncertainty: null, at: 12.5, sentence: 'lowest pressure during the hold 548.2 bar, at least 530 bar wanted',
      },
    ],
    cycles: [],
    events: [{ kind: 'spike', at: 3.25, height: 7.1, width: 0.04 }],
    notes: [note],
    signal: { samples: 100, interval: 0.01, resolution: 0.01, noise: 0.02, missing: 0, duplicates: 0, backward: 0 },
    plan: 'two-wire DN12 proof',
    thresholds: 'standard',
  };
}

/** Writes `count` samples, `rate` a second, from `from` s on. @returns the time after the last one. */
export function record(store: Store, channel: number, from: number, count: number, rate = 100, value = heldPressure): number {
  const writer = store.beginSegment(channel, { time: from, wall: morning + from * 1000 });
  for (let i = 0; i < count; i++) writer.append(from + i / rate, value(i), 0);
  writer.flush();
  return from + count / rate;
}

/** A store with one bench and `runs` sealed runs of 3 s, each followed by a job entry. */
export function storeWithRuns(path: string, runs: number, options: Partial<OpenOptions> = {}): { store: Store; channel: number } {
  const store = opened(path, options);
  const channel = store.channel('bench 1', 'pressure', 'bar').id;
  const plan = store.keepVersion('plan', { plan: 'two-wire DN12 proof', testPressure: 550 });
  const thresholds = store.keepVersion('thresholds', standardThresholds);
  for (let i = 0; i < runs; i++) {
    const from = 10 + i * 10;
    const to = record(store, channel, from, 300);
    const run = store.openRun({ channel, from, plan, thresholds, instrument: { resolution: 0.01, identity: 'PT-7, certificate 2026-014' } });
    store.finishRun(run, { to, outcome: outcomeOf(i % 2 === 0 ? 'pass' : 'fail') });
    store.addEntry(run, { kind: 'job', order: `A-${100 + i}`, assemblies: ['H-1', 'H-2'], operator: 'J. Doe' }, 'J. Doe');
  }
  return { store, channel };
}
