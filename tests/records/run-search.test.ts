import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { emptyFolder, morning, opened, outcomeOf, record, storeWithRuns } from './example-store.js';
import { standardThresholds } from '../../src/core/thresholds.js';

const numbers = (runs: readonly { number: number }[]) => runs.map(({ number }) => number);
const sample = () => storeWithRuns(join(emptyFolder(), 'bench.sqlite'), 6).store;

describe('looking for runs', () => {
  it('finds by order, the newest first, from the beginning of a word and whatever the case', () => {
    const store = sample();
    expect(numbers(store.searchRuns({ order: 'A-103' }))).toEqual([4]);
    expect(numbers(store.searchRuns({ order: 'a-10' }))).toEqual([6, 5, 4, 3, 2, 1]);
    expect(store.searchRuns({ order: 'B-1' })).toEqual([]);
  });

  it('finds by assembly, plan, verdict, bench and time, all of which must fit', () => {
    const store = sample();
    expect(store.searchRuns({ serial: 'H-2' })).toHaveLength(6);
    expect(store.searchRuns({ serial: 'H-3' })).toEqual([]);
    expect(store.searchRuns({ plan: 'two-wire' })).toHaveLength(6);
    expect(numbers(store.searchRuns({ verdict: 'fail' }))).toEqual([6, 4, 2]);
    expect(numbers(store.searchRuns({ verdict: 'fail', order: 'A-103' }))).toEqual([4]);
    expect(store.searchRuns({ bench: 'bench 2' })).toEqual([]);
    // Runs begin at 10, 20, ... s after the morning; both ends count.
    expect(numbers(store.searchRuns({ from: morning + 20_000, to: morning + 30_000 }))).toEqual([3, 2]);
  });

  it('goes on page by page', () => {
    const store = sample();
    const first = store.searchRuns({ order: 'A', limit: 4 });
    expect(numbers(first)).toEqual([6, 5, 4, 3]);
    expect(numbers(store.searchRuns({ order: 'A', limit: 4, before: 3 }))).toEqual([2, 1]);
  });

  it('takes any text as words, never as a question in another language', () => {
    const store = sample();
    for (const text of ['"', "'", '*', 'NEAR(', 'A-103" OR "A-101', 'ordered:', '-', '\0', '()', 'Doe AND']) {
      expect(() => store.searchRuns({ text, order: text })).not.toThrow();
    }
    expect(store.searchRuns({ text: 'Doe' })).toHaveLength(6);
    expect(store.searchRuns({ order: 'A-103" OR "A-101' })).toEqual([]);
  });

  it('finds what was said later, and what an assembly was called before a correction', () => {
    const store = sample();
    store.addEntry(2, { kind: 'job', order: 'A-900', assemblies: ['H-7'], operator: 'J. Doe' }, 'J. Doe', 'wrong order keyed in');
    expect(numbers(store.searchRuns({ order: 'A-900' }))).toEqual([2]);
    expect(numbers(store.searchRuns({ serial: 'H-7' }))).toEqual([2]);
    expect(numbers(store.searchRuns({ serial: 'H-1' }))).toContain(2);
  });

  it('finds a run that goes on, as open', () => {
    const store = opened(join(emptyFolder(), 'bench.sqlite'));
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const to = record(store, channel, 0, 100);
    const run = store.openRun({ channel, from: 0, plan: null, thresholds: store.keepVersion('thresholds', standardThresholds), instrument: {} });
    expect(numbers(store.searchRuns({ verdict: 'open' }))).toEqual([run]);
    store.finishRun(run, { to, outcome: outcomeOf('pass') });
    expect(store.searchRuns({ verdict: 'open' })).toEqual([]);
    expect(numbers(store.searchRuns({ verdict: 'pass' }))).toEqual([run]);
  });
});
