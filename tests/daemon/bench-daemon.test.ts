import Database from 'better-sqlite3';
import { join } from 'node:path';
import { afterEach, describe, expect, it, vi } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { canonicalJson } from '../../src/records/canonical-json.js';
import type { RunSummary } from '../../src/server/bench-feed.js';
import { HandBench, judgingBy } from './hand-bench.js';

let bench: HandBench;
const begin = (...args: ConstructorParameters<typeof HandBench>): HandBench => {
  bench = new HandBench(...args);
  bench.daemon.start();
  return bench;
};
afterEach(() => bench.clear());

const outcomesOf = (from: HandBench): Outcome[] =>
  from.stored((store) => store.listRuns().toReversed().flatMap(({ number }) => store.getRun(number)?.outcome ?? []));

describe('a bench from bytes to records', () => {
  it('stores runs, events and the versions that they were judged by', () => {
    begin();
    bench.goodRun();
    bench.goodRun();
    bench.daemon.stop();
    bench.stored((store) => {
      const runs = store.listRuns();
      expect(runs.map(({ number, verdict, state }) => [number, verdict, state])).toEqual([[2, 'pass', 'finished'], [1, 'pass', 'finished']]);
      const run = store.getRun(1);
      expect(run?.outcome?.plan).toBe('short proof');
      expect(store.versions.get(run?.plan ?? '')?.content).toEqual(judgingBy().plan?.value);
      expect(store.versions.get(run?.thresholds ?? '')?.content).toEqual(judgingBy().thresholds.value);
      expect(store.eventsOf(1).map(({ event }) => event)).toEqual(run?.outcome?.events);
      expect(run?.fromWall).toBeGreaterThan(Date.UTC(2027, 2, 1, 9));
      expect(run?.fromWall).toBeLessThan(Date.UTC(2027, 2, 1, 9, 0, 10));
    });
  });

  it('a replay of what was stored gives the same outcomes, byte for byte', async () => {
    begin();
    bench.goodRun();
    bench.ramp(0, 560, 10);
    bench.ramp(560, 552, 2);
    bench.ramp(552, 552, 2);
    bench.pull();
    bench.wait(1.5);
    await vi.waitFor(() => expect(bench.opened).toBe(2), { timeout: 20_000 });
    bench.ramp(552, 552, 4);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    bench.daemon.stop();
    const stored = outcomesOf(bench);
    expect(stored.map(({ verdict }) => verdict)).toEqual(['pass', 'inconclusive']);
    const { plan, thresholds } = judgingBy();
    const again = bench.stored((store) => judge(store.traceWindow(1, -Infinity, Infinity), plan?.value ?? null, thresholds.value, store.getRun(1)?.instrument ?? {}));
    expect(canonicalJson(again)).toBe(canonicalJson(stored));
  });

  it('commits at least once a second of samples', () => {
    begin();
    bench.ramp(0, 0, 30);
    const newest = bench.stored((store) => store.newestSamples(1, 1).time[0] ?? 0);
    const now = bench.daemon.feed.view().time ?? Infinity;
    expect(now - newest).toBeLessThanOrEqual(1.05);
  });

  it('marks what it noticed, so that a replay sees it too', () => {
    begin();
    bench.ramp(0, 0, 5);
    bench.pull();
    bench.daemon.stop();
    const kinds = bench.stored((store) => store.traceWindow(1, -Infinity, Infinity).marks.map(({ kind, text }) => `${kind}: ${text}`));
    expect(kinds).toEqual(['signal-lost: the port is gone', 'signal-lost: the program was stopped']);
  });
});

describe('what pages see', () => {
  it('follows the run and lists it when it is over', () => {
    begin();
    const phases = new Set<string>();
    const ended: RunSummary[] = [];
    let events = 0;
    bench.daemon.feed.subscribe({
      onSamples: () => undefined,
      onView: (view) => phases.add(`${view.phase} ${view.verdict}`),
      onEvent: () => events++,
      onRunEnded: (run) => {
        ended.push(run);
        expect(bench.daemon.feed.recentRuns(5)).toEqual(ended);
      },
      onChanged: () => undefined,
    });
    bench.ramp(0, 0, 2);
    bench.ramp(0, 560, 10);
    expect(bench.daemon.feed.runSince()).toBeCloseTo((bench.daemon.feed.view().time ?? 0) - 10, 0);
    bench.ramp(560, 552, 2);
    bench.ramp(552, 552, 10);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    expect([...phases]).toEqual(expect.arrayContaining(['vented null', 'rising pending', 'settling pending', 'holding pending', 'venting pending', 'vented pending', 'vented pass']));
    expect([...phases].at(-1)).toBe('vented pass');
    expect(events).toBe(bench.daemon.feed.events(-Infinity).length);
    expect(events).toBeGreaterThan(0);
    expect(bench.daemon.feed.runSince()).toBeNull();
    expect(ended).toHaveLength(1);
    expect(ended[0]).toMatchObject({ id: '1', verdict: 'pass', plan: 'short proof', reasons: [], visual: null });
    expect(ended[0]?.holds).toHaveLength(1);
    expect(bench.daemon.feed.recentRuns(5)).toEqual(ended);
  });

  it('gives the samples of a stretch and of a run, thinned, with the highest kept', () => {
    begin();
    bench.goodRun();
    const { feed } = bench.daemon;
    const run = feed.envelope({ run: '1' }, 100);
    expect(Math.max(...(run?.pressure ?? []))).toBeCloseTo(feed.recentRuns(1)[0]?.peak ?? NaN, 6);
    expect(run?.samples).toBeGreaterThan(400);
    expect(run?.time.length).toBeLessThanOrEqual(508);
    expect(feed.envelope({ from: -Infinity, to: Infinity }, 100)?.samples).toBe(feed.newest() + 1);
    expect(feed.envelope({ run: '7' }, 100)).toBeUndefined();
    expect(feed.envelope({ run: 'waiting-1' }, 100)).toBeUndefined();
  });

  it('tells new samples in order, each once', async () => {
    begin();
    const heard: number[] = [];
    bench.daemon.feed.subscribe({
      onSamples: ({ first, time }) => time.forEach((_, i) => heard.push(first + i)),
      onView: () => undefined, onEvent: () => undefined, onRunEnded: () => undefined, onChanged: () => undefined,
    });
    bench.ramp(0, 0, 3);
    await new Promise((resolve) => setImmediate(resolve));
    bench.ramp(0, 0, 2);
    await new Promise((resolve) => setImmediate(resolve));
    expect(heard).toEqual(Array.from({ length: 100 }, (_, i) => i));
  });

  it('says the age of the data and what is wrong with the readings', () => {
    begin();
    bench.ramp(0, 0, 2);
    bench.wait(4);
    expect(bench.daemon.feed.health().dataAge).toBeCloseTo(4, 3);
    for (let i = 0; i < 80; i++) {
      bench.wait(0.05);
      bench.line('+OL');
    }
    const { dataAge, notices } = bench.daemon.feed.health();
    expect(dataAge).toBeCloseTo(0, 3);
    expect(notices.map((notice) => notice.text)).toContain("readings come, but none can be used: the last was '+OL' (over-range)");
    expect(bench.daemon.feed.view().pressure).toBeNull();
    bench.ramp(0, 0, 1);
    expect(bench.daemon.feed.health().notices).toEqual([]);
  });
});

describe('another plan', () => {
  it('waits for the run that is going on', () => {
    begin();
    bench.ramp(0, 0, 2);
    bench.ramp(0, 560, 10);
    bench.daemon.use(judgingBy({ plan: 'stricter proof', minimumPressure: '549 bar', testPressure: '550 bar', ceilingPressure: '555 bar' }));
    expect(bench.daemon.feed.setup().plan?.plan).toBe('short proof');
    bench.ramp(560, 552, 2);
    bench.ramp(552, 552, 10);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    expect(bench.daemon.feed.setup().plan?.plan).toBe('stricter proof');
    expect(bench.daemon.feed.view().verdict).toBe('pass');
    bench.goodRun();
    expect(bench.daemon.feed.recentRuns(5).map(({ plan, verdict }) => [plan, verdict])).toEqual([['stricter proof', 'fail'], ['short proof', 'pass']]);
  });

  it('no plan: measured, kept, inconclusive', () => {
    begin({ ...judgingBy(), plan: null });
    bench.goodRun();
    const [run] = bench.daemon.feed.recentRuns(1);
    expect(run).toMatchObject({ verdict: 'inconclusive', plan: null });
    expect(run?.reasons.join(' ')).toMatch(/plan/i);
  });
});

describe('calibration', () => {
  // FC-46: the due day counts to its end, in local time, and the run carries what was in force.
  it('is overdue from the day after its due date on, and then nothing passes', () => {
    const calibration = { certificate: 'C-118', date: '2026-03-01', due: '2027-03-01', serial: 'T-7', uncertainty: '0.8 bar' };
    begin(judgingBy(), { calibration });
    bench.goodRun();
    bench.wait(86_400);
    bench.goodRun();
    bench.goodRun();
    bench.daemon.stop();
    const runs = bench.stored((store) => store.listRuns().toReversed().map(({ number }) => store.getRun(number)));
    expect(runs[0]?.instrument).toMatchObject({ calibrationOverdue: false, calibrationUncertainty: 0.4 });
    expect(runs[0]?.verdict).toBe('pass');
    for (const later of runs.slice(1)) {
      expect(later?.instrument).toMatchObject({ calibrationOverdue: true });
      expect(later?.verdict).toBe('inconclusive');
    }
    expect(runs).toHaveLength(3);
  });
});

/** Ends the daemon as a kill would: nothing is flushed, no mark is set, the lock goes. */
function crash(from: HandBench): void {
  from.daemon['running'].unsubscribe();
  from.daemon['reading'].stop();
  const store = from.daemon['store'];
  if (store === null) throw new Error('the daemon is not running');
  store.db.close();
  store['file']?.end();
  from.daemon['store'] = null;
}

describe('a start in the middle of a run', () => {
  it('goes on with the run, states the gap, and never passes it', () => {
    begin();
    bench.ramp(0, 0, 2);
    bench.ramp(0, 560, 10);
    bench.ramp(560, 552, 2);
    bench.ramp(552, 552, 2);
    const eventsBefore = bench.daemon.feed.events(-Infinity).length;
    crash(bench);
    bench.wait(3);
    const { feed } = bench.restart();
    expect(feed.runSince()).not.toBeNull();
    expect(feed.health().notices.map(({ text }) => text).join()).toContain('run 1 was going on when the program ended');
    bench.ramp(552, 552, 6);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    const [run, ...others] = feed.recentRuns(5);
    expect(others).toEqual([]);
    expect(run).toMatchObject({ id: '1', verdict: 'inconclusive' });
    expect(run?.reasons.join(' ')).toMatch(/no data|gap/i);
    expect(feed.view().verdict).toBe('inconclusive');
    bench.daemon.stop();
    bench.stored((store) => {
      expect(store.getRun(1)?.state).toBe('interrupted');
      const gap = store.getRun(1)?.outcome?.events.find((event) => event.kind === 'gap');
      expect(gap?.width).toBeGreaterThan(3);
      expect(gap?.width).toBeLessThan(4.1);
      const events = store.eventsOf(1).map(({ event }) => `${event.kind} ${event.at}`);
      expect(new Set(events).size).toBe(events.length);
      expect(events.length).toBeGreaterThanOrEqual(eventsBefore);
      expect(store.traceOfRun(1).marks.map(({ kind }) => kind)).toEqual(['signal-lost', 'signal-back']);
    });
  });

  it('a run on record has the samples by which it was found', () => {
    begin();
    bench.ramp(0, 0, 2);
    for (let bar = 0; bench.daemon.openRun === null && bar < 500; bar += 5) bench.ramp(bar, bar + 5, 0.1);
    crash(bench);
    bench.wait(3);
    expect(bench.restart().feed.runSince()).not.toBeNull();
  });

  it('a run that what was stored does not show again is closed, and never passes; the next one may', () => {
    begin();
    bench.ramp(0, 0, 5);
    const store = bench.daemon.records;
    store?.openRun({ channel: 1, from: (bench.daemon.feed.view().time ?? 0) + 1, plan: null, thresholds: store.keepVersion('thresholds', judgingBy().thresholds.value), instrument: null });
    crash(bench);
    bench.wait(3);
    bench.restart();
    bench.ramp(0, 0, 10);
    bench.goodRun();
    expect(bench.daemon.feed.recentRuns(5).map(({ id, verdict }) => [id, verdict])).toEqual([['2', 'pass'], ['1', 'inconclusive']]);
    bench.daemon.stop();
    bench.stored((stored) => {
      expect(stored.getRun(1)).toMatchObject({ state: 'interrupted', outcome: { notes: [expect.stringMatching(/^the program ended while this run went on/)] } });
      expect(stored.runs.openOnes()).toEqual([]);
    });
  });

  it('the next run is a new one and may pass', () => {
    begin();
    bench.ramp(0, 0, 2);
    bench.ramp(0, 560, 10);
    bench.daemon.stop();
    bench.wait(3600);
    bench.restart();
    bench.ramp(0, 0, 10);
    bench.goodRun();
    expect(bench.daemon.feed.recentRuns(5).map(({ id, verdict }) => [id, verdict])).toEqual([['2', 'pass'], ['1', 'inconclusive']]);
  });

  it('runs that were over stay as they were, and times go on', () => {
    begin();
    bench.goodRun();
    const before = bench.daemon.feed.view().time ?? 0;
    const [run] = bench.daemon.feed.recentRuns(1);
    bench.daemon.stop();
    bench.wait(100);
    const { feed } = bench.restart();
    expect(feed.recentRuns(1)[0]).toMatchObject({ id: '1', verdict: 'pass', from: run?.from, to: run?.to });
    bench.ramp(0, 0, 1);
    expect(feed.view().time).toBeGreaterThan(before + 99);
    expect(feed.newest()).toBe(19);
  });
});

/** Another program that holds the file: every write is refused until it lets go. */
function holdStore(from: HandBench): () => void {
  const other = new Database(join(from.folder, 'records.sqlite'));
  other.exec('BEGIN IMMEDIATE');
  from.daemon['store']?.db.pragma('busy_timeout = 0');
  return () => other.close();
}

describe('when the store refuses', () => {
  const tick = (from: HandBench) => from.daemon['tick']();

  it('judging and showing go on, it is said, nothing passes, and all is written later', () => {
    begin();
    bench.ramp(0, 0, 2);
    tick(bench);
    const release = holdStore(bench);
    bench.goodRun();
    tick(bench);
    const { feed } = bench.daemon;
    expect(feed.health().recording).toBe(false);
    expect(feed.health().notices[0]).toMatchObject({ weight: 'alarm', text: expect.stringMatching(/^not recording: /) as string });
    expect(feed.view().verdict).toBe('inconclusive');
    expect(feed.recentRuns(5)).toHaveLength(1);
    expect(feed.recentRuns(5)[0]).toMatchObject({ id: 'waiting-1', verdict: 'inconclusive', reasons: ['this run is not on record yet: the store cannot be written'] });
    release();
    tick(bench);
    tick(bench);
    expect(feed.health()).toMatchObject({ recording: true, notices: [] });
    expect(feed.view().verdict).toBe('pass');
    expect(feed.recentRuns(5).map(({ id, verdict }) => [id, verdict])).toEqual([['1', 'pass']]);
    const samples = feed.newest() + 1;
    bench.daemon.stop();
    expect(bench.stored((store) => store.traceWindow(1, -Infinity, Infinity).time.length)).toBe(samples);
  });
});

describe('clocks', () => {
  // FC-24
  it('a calendar step is noted and changes no verdict', () => {
    begin();
    bench.ramp(0, 0, 2);
    bench.ramp(0, 560, 10);
    bench.ramp(560, 552, 2);
    bench.ramp(552, 552, 5);
    const before = bench.daemon.feed.anchor();
    bench.at.wall -= 3_600_000;
    bench.daemon['tick']();
    expect(bench.daemon.feed.anchor()).not.toEqual(before);
    bench.ramp(552, 552, 5);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    bench.daemon.stop();
    bench.stored((store) => {
      expect(store.getRun(1)?.verdict).toBe('pass');
      expect(store.getRun(1)?.outcome?.notes.join(' ')).toContain('the clock of the computer was set by -3600.0 s');
      expect(store.traceOfRun(1).marks.map(({ kind }) => kind)).toEqual(['clock-step']);
    });
  });

  // FC-25
  it('a sleep is a gap: the hold is not continuous', () => {
    begin();
    bench.ramp(0, 0, 2);
    bench.ramp(0, 560, 10);
    bench.ramp(560, 552, 2);
    bench.ramp(552, 552, 5);
    bench.at.wall += 7_200_000;
    bench.at.boot += 7200;
    bench.daemon['tick']();
    bench.ramp(552, 552, 5);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    const [run] = bench.daemon.feed.recentRuns(1);
    expect(run?.verdict).toBe('inconclusive');
    bench.daemon.stop();
    expect(bench.stored((store) => store.getRun(1)?.outcome?.notes.join(' '))).toContain('no data for 7200 s: the computer slept');
  });
});

describe('errors that nobody expected', () => {
  it('are counted and shown, and the bench goes on', () => {
    begin();
    bench.ramp(0, 0, 1);
    bench.daemon.trouble(new Error('first'));
    bench.daemon.trouble('second');
    expect(bench.daemon.feed.health().notices.map(({ text }) => text)).toEqual(['the program met an unexpected error (2 so far): second']);
    bench.goodRun();
    expect(bench.daemon.feed.recentRuns(1)[0]?.verdict).toBe('pass');
  });
});
