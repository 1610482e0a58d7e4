import { statSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import type { RetentionRules } from '../../src/records/retention.js';
import type { Store } from '../../src/records/store.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { emptyFolder, heldPressure, morning, opened, outcomeOf, record } from './example-store.js';

const hour = 3600;
const day = 24 * hour;
/** s between two readings. */
const spacing = 10;
/** s: the run lies here, with idle time before and after it. */
const run = { from: 2 * hour, to: 2 * hour + 60 };
const length = 6 * hour;

/** Six hours of readings, one sealed run in them; then, with the rules, the present is `age` s after the start. */
function aged(rules: RetentionRules, age: number, before?: (store: Store) => void): { store: Store; channel: number; path: string } {
  const path = join(emptyFolder(), 'bench.sqlite');
  let wall = morning;
  const store = opened(path, { retention: rules, now: () => wall });
  const channel = store.channel('bench 1', 'pressure', 'bar').id;
  const thresholds = store.keepVersion('thresholds', standardThresholds);
  atOnce(store, () => record(store, channel, 0, length / spacing, 1 / spacing, heldPressure));
  const number = store.openRun({ channel, from: run.from, plan: null, thresholds, instrument: { resolution: 0.01 } });
  store.finishRun(number, { to: run.to, outcome: outcomeOf('inconclusive') });
  atOnce(store, () => store.compact());
  before?.(store);
  wall = morning + age * 1000;
  settle(store, length + day);
  return { store, channel, path };
}

/** In one commit: a sync for each second of the past would take minutes. */
const atOnce = (store: Store, work: () => void): void => store.db.transaction(work)();

/** Ticks until nothing changes any more. */
function settle(store: Store, from: number): void {
  const state = () => `${store.db.prepare<[], number>('SELECT total_changes()').pluck().get()} ${store.db.pragma('freelist_count', { simple: true })}`;
  let before = '';
  for (let i = 0; state() !== before; i++) {
    before = state();
    store.tick(from + i * 11);
  }
}

const times = (store: Store, channel: number) => Array.from(store.traceWindow(channel, -1, length + day).time);
const inRun = (all: readonly number[]) => all.filter((time) => time >= run.from && time <= run.to);

describe('what is given up to keep room', () => {
  it('is nothing without a rule, however old it is', () => {
    const { store, channel } = aged({}, 300 * day);
    expect(times(store, channel)).toHaveLength(length / spacing);
  });

  it('is nothing that is not old enough', () => {
    const { store, channel } = aged({ keepIdle: 2 * day }, day);
    expect(times(store, channel)).toHaveLength(length / spacing);
  });

  it('is idle time that is too old; a sealed run keeps all of its samples, and two minutes on either side', () => {
    const { store, channel } = aged({ keepIdle: day }, 2 * day);
    const left = times(store, channel);
    expect(left.length).toBeLessThan(length / spacing / 2);
    expect(left.filter((time) => time >= run.from - 120 && time <= run.to + 120)).toHaveLength((60 + 240) / spacing + 1);
    expect(left.filter((time) => time < run.from - 120)).toEqual([]);
    expect(verifyLedger(store)).toMatchObject({ intact: true, tracesRemoved: 0 });
  });

  it('never is the newest hour', () => {
    const { store, channel } = aged({ keepIdle: day }, 2 * day);
    const newest = times(store, channel).filter((time) => time >= length - hour);
    expect(newest).toHaveLength(hour / spacing);
  });

  it('never is a run that is still open', () => {
    const { store, channel } = aged({ keepIdle: day, keepRuns: day, storeAtMost: 1 }, 2 * day, (before) => {
      before.openRun({ channel: 1, from: hour, plan: null, thresholds: before.keepVersion('thresholds', standardThresholds), instrument: {} });
    });
    expect(times(store, channel).filter((time) => time >= hour)).toHaveLength((length - hour) / spacing);
  });

  it('is the trace of an old run only where the rules say so: its record and seal stay, and the ledger says why', () => {
    const { store, channel } = aged({ keepIdle: day, keepRuns: day }, 2 * day);
    expect(inRun(times(store, channel))).toEqual([]);
    expect(store.traceRemoved(1)).toBe(true);
    expect(store.getRun(1)?.outcome?.verdict).toBe('inconclusive');
    expect(store.entriesOf(1).map(({ entry, who, why }) => [entry.kind, who, why])).toEqual([['trace-removed', 'retention', 'older than 1 days, as the bench file says']]);
    expect(verifyLedger(store)).toMatchObject({ intact: true, tracesRemoved: 1 });
  });

  it('waits for whoever still needs it', () => {
    const { store, channel } = aged({ keepIdle: day, keepRuns: day }, 2 * day, (before) => {
      before.pin('copy', () => 0);
    });
    expect(times(store, channel)).toHaveLength(length / spacing);
  });

  it('is the oldest idle time, whatever its age, where the store is too large; runs stay', () => {
    const { store, channel } = aged({ storeAtMost: 1 }, length);
    const left = times(store, channel);
    expect(inRun(left)).toHaveLength(60 / spacing + 1);
    expect(left.filter((time) => time < run.from - 120)).toEqual([]);
  });

  it('waits a week when the calendar has jumped: a computer that lost its clock makes nothing old', () => {
    const { store, channel } = aged({ keepIdle: day }, 2 * day, (before) => settle(before, length));
    expect(times(store, channel).length).toBeLessThan(length / spacing);
    const jumped = aged({ keepIdle: day }, 100 * day, (before) => settle(before, length));
    expect(times(jumped.store, jumped.channel)).toHaveLength(length / spacing);
  });

  it('gives its room on the disk back', () => {
    const path = join(emptyFolder(), 'bench.sqlite');
    let wall = morning;
    const store = opened(path, { retention: { keepIdle: day }, now: () => wall });
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    // Noise that does not pack, so that the file is large: a run of a generator, the same one each time.
    let state = 1;
    atOnce(store, () => record(store, channel, 0, 300_000, 20, () => (state = (state * 48271) % 2147483647) / 1e6));
    atOnce(store, () => store.compact());
    store.tick(15_500);
    const before = statSync(path).size;
    wall += 2 * day * 1000;
    settle(store, 16_000);
    store.close();
    // Some two megabytes stay for what comes next.
    expect(statSync(path).size).toBeLessThan(before - 2 ** 20);
  });
});
