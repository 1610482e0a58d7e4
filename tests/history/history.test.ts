import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { groups, statistics } from '../../src/history/statistics.js';
import { findRuns } from '../../src/history/find-runs.js';
import { historyQuestion } from '../../src/history/history-question.js';
import { runsTable } from '../../src/history/runs-table.js';
import { statisticsTable } from '../../src/history/statistics-table.js';
import { storeHistory } from '../../src/history/store-history.js';
import { traceStretch } from '../../src/history/trace-stretch.js';
import { runStory } from '../../src/records/run-story.js';
import type { Store } from '../../src/records/store.js';
import type { FoundRuns } from '../../src/server/history-answers.js';
import { emptyFolder, opened } from '../records/example-store.js';
import { bench, begun, hose, recordSeason, season, type SeasonRun } from './season.js';

const storeOf = (runs: readonly SeasonRun[]): Store => {
  const store = opened(join(emptyFolder(), 'records.sqlite'));
  recordSeason(store, runs);
  return store;
};
const numbers = ({ runs }: FoundRuns) => runs.map(({ run }) => run);
const choice = { plan: 'two-wire DN12 proof', hose, measure: 'leak', baseline: 25 } as const;

describe('runs found', () => {
  it('by the result as it is now: a leak that was seen, and a later judgement, count', () => {
    const store = storeOf([{}, { seen: 'leakage seen' }, { verdict: 'fail', leak: 9 }, { verdict: 'inconclusive' }]);
    const sealed = store.getRun(4);
    store.addEntry(4, { kind: 'judged-again', plan: sealed?.plan ?? '', thresholds: sealed?.thresholds ?? '', outcome: JSON.parse(JSON.stringify({ ...sealed?.outcome, verdict: 'pass' })) as Record<string, string> }, 'M. Roe');
    expect(numbers(findRuns(store, bench, { result: 'pass', limit: 10 }))).toEqual([4, 1]);
    expect(numbers(findRuns(store, bench, { result: 'fail', limit: 10 }))).toEqual([3, 2]);
    const two = findRuns(store, bench, { limit: 10 }).runs.find(({ run }) => run === 2);
    expect(two).toMatchObject({ result: 'fail', sealed: 'pass', reason: 'leakage was seen', peak_bar: 556 });
    // The same as the certificate says.
    for (const { run, result } of findRuns(store, bench, { limit: 10 }).runs) expect(result).toBe(runStory(store, run).result);
  });

  it('page by page, without an empty page at the end, and never of another bench', () => {
    const store = storeOf(season(5));
    const first = findRuns(store, bench, { limit: 3 });
    expect([numbers(first), first.next, first.onRecord]).toEqual([[5, 4, 3], 3, 5]);
    const second = findRuns(store, bench, { limit: 2, before: 3 });
    expect([numbers(second), second.next]).toEqual([[2, 1], null]);
    expect(numbers(findRuns(store, 'bench 2', { limit: 3 }))).toEqual([]);
  });

  it('gives up after a while and says where to go on, so that nothing is left out', () => {
    const store = storeOf([{ verdict: 'fail' }, ...season(4)]);
    let clock = 0;
    const answers: FoundRuns[] = [];
    for (let before: number | null = Number.MAX_SAFE_INTEGER; before !== null; before = answers.at(-1)?.next ?? null) {
      answers.push(findRuns(store, bench, { result: 'fail', limit: 1, before }, () => (clock += 1000)));
    }
    expect(answers.flatMap(numbers)).toEqual([1]);
    expect(answers.reduce((sum, { looked }) => sum + looked, 0)).toBe(5);
  });

  it('by day, order, serial and words', () => {
    const store = storeOf(season(4));
    const asked = (query: Record<string, string>): number[] => {
      const question = historyQuestion.parse({ ask: 'runs', ...query });
      return question.ask === 'runs' ? numbers(findRuns(store, bench, question)) : [];
    };
    expect(asked({ order: 'a-102' })).toEqual([3]);
    expect(asked({ serial: 'H-1', hose: 'two' })).toEqual([2]);
    expect(asked({ text: 'example doe' })).toEqual([4, 3, 2, 1]);
    expect(asked({ order: '' })).toHaveLength(4);
    expect(asked({ from: new Date(begun + 3_600_000).toISOString(), to: String(begun + 2 * 3_600_000) })).toEqual([3, 2]);
  });

  it('as a table whose texts no spreadsheet runs', () => {
    const store = storeOf([{ job: { order: '=HYPERLINK("http://example.invalid")', customer: '+1', hose, assemblies: ['-1'] } }]);
    const [header, line] = runsTable(store, bench, {}).split('\r\n');
    expect(header).toMatch(/^run,from,length_s,state,result,sealed_verdict,plan,order,/);
    expect(line).toContain(`"'=HYPERLINK(""http://example.invalid"")",'+1,`);
    expect(line).toContain(",'-1,");
  });
});

describe('statistics', () => {
  it('count sealed results only; retests are their own and inconclusive stays apart', () => {
    const job = { hose, assemblies: ['H-1'] };
    const store = storeOf([{ job }, { job, verdict: 'fail' }, { job: { ...job, retestOf: 2 } }, { job, verdict: 'inconclusive' }, { job, seen: 'leakage seen' }, { job: { hose: 'four-wire DN20' } }]);
    const channel = store.channel(bench, 'pressure', 'bar').id;
    const open = store.openRun({ channel, from: 90_000, plan: store.getRun(1)?.plan ?? null, thresholds: store.getRun(1)?.thresholds ?? '', instrument: null });
    store.addEntry(open, { kind: 'job', ...job }, 'J. Doe');
    const found = statistics(store, bench, choice);
    expect(found.first).toMatchObject({ pass: 1, fail: 2, inconclusive: 1, rate: { share: 1 / 3 } });
    expect(found.retests).toMatchObject({ pass: 1, fail: 0, inconclusive: 0, rate: { share: 1 } });
    expect(found.points.map(({ run }) => run)).toEqual([1, 2, 3, 4, 5]);
    expect(groups(store, bench, {}).groups.map((group) => [group.hose, group.first.pass, group.first.fail])).toEqual([['four-wire DN20', 1, 0], [hose, 1, 2]]);
  });

  it('leave aside assemblies of which nobody knows whether they failed', () => {
    const store = storeOf([{ verdict: 'fail', job: { hose, assemblies: ['H-1', 'H-2', 'H-3'] } }, { job: { hose, assemblies: ['H-4', 'H-5'] } }]);
    const { assemblies, sentences } = statistics(store, bench, choice);
    expect(assemblies).toMatchObject({ pass: 2, fail: 0, retestAlone: 3 });
    expect(sentences.join(' ')).toContain('different numbers of assemblies');
    expect(statistics(store, bench, { ...choice, together: 2 }).points.map(({ run }) => run)).toEqual([2]);
  });

  it('tell a worn die before an assembly fails: every run passes, and the average leaves its limit', () => {
    const store = storeOf(season(60));
    const { chart, first, sentences, limit } = statistics(store, bench, choice);
    expect(first).toMatchObject({ pass: 60, fail: 0 });
    expect(limit).toBe(6);
    expect(chart?.baseline).toBe(25);
    // The drift begins with run 31; before it the chart is calm.
    const firstAbove = chart?.ewma.averages.findIndex((average) => average > chart.ewma.upper) ?? -1;
    expect(firstAbove).toBeGreaterThan(29);
    expect(firstAbove).toBeLessThan(45);
    expect(sentences[0]).toMatch(/^The leak rate is drifting up: since run 3\d its moving average/);
    expect(statistics(store, bench, { ...choice, to: begun + 29 * 3_600_000 }).sentences[0]).toBe('The leak rate varies as chance alone would have it.');
  });

  it('draw no limits from a handful', () => {
    const found = statistics(storeOf(season(7)), bench, choice);
    expect(found.chart).toBeNull();
    expect(found.sentences[0]).toContain('not yet 8 passed first tests');
    expect(statisticsTable(found).split('\r\n')[1]).toMatch(/^1,2027-03-01T07:00:00.000Z,pass,no,1,/);
  });
});

describe('a trace, opened', () => {
  it('shows a spike of one reading however wide the window, and every reading when near', () => {
    const store = storeOf([{ hold: 600, spikeAt: 300 }]);
    store.compact();
    const wide = traceStretch(store, bench, { run: 1, columns: 50 });
    expect(wide.column_s).toBeGreaterThan(10);
    expect(Math.max(...wide.pressure_bar.map((p) => p ?? 0))).toBe(597.3);
    expect(wide.time_s.every((t, i) => i === 0 || t >= (wide.time_s[i - 1] ?? 0))).toBe(true);
    const near = traceStretch(store, bench, { run: 1, from: 413, to: 415, columns: 800 });
    expect([near.column_s, near.time_s.length]).toEqual([0, 21]);
    expect(near.pressure_bar[near.time_s.indexOf(414)]).toBe(597.3);
  });

  it('breaks the line where there was nothing', () => {
    const store = storeOf([{}, {}]);
    const run = store.getRun(1);
    const { pressure_bar } = traceStretch(store, bench, { run: 1, from: run?.from, to: (run?.to ?? 0) + 500, columns: 20 });
    expect(pressure_bar.at(-1)).toBeNull();
    expect(pressure_bar.includes(0)).toBe(false);
  });

  it('refuses a window that holds nothing of it, and a run of another bench', () => {
    const store = storeOf([{}]);
    expect(() => traceStretch(store, bench, { run: 1, from: 90_000, to: 90_001, columns: 10 })).toThrow(/holds nothing of this run/);
    expect(() => traceStretch(store, 'bench 2', { run: 1, columns: 10 })).toThrow(/no such run on this bench/);
  });
});

describe('the store of a history', () => {
  let close = (): Promise<void> => Promise.resolve();
  afterEach(() => close());

  it('is read beside the writer, and a wrong question is refused and the next one answered', async () => {
    const path = join(emptyFolder(), 'records.sqlite');
    const store = opened(path);
    recordSeason(store, season(2));
    const history = storeHistory({ store: path, software: 'test' });
    close = () => history.close();
    await expect(history.ask(bench, { ask: 'run', run: 9 })).rejects.toThrow('run 9: there is no such run');
    recordSeason(store, [{}], 100_000);
    const { body } = await history.ask(bench, { ask: 'run', run: 3 });
    expect(JSON.parse(body)).toMatchObject({ run: 3, result: 'pass', gap: 1, lines: { testPressure: 550, ceiling: 600 } });
  });
});
