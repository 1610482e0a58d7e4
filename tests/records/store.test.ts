import { existsSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { InputError } from '../../src/core/problems.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { openStore } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { emptyFolder, heldPressure, morning, opened, outcomeOf, record, storeWithRuns } from './example-store.js';

const newStore = () => {
  const path = join(emptyFolder(), 'bench.db');
  const store = opened(path);
  return { path, store, channel: store.channel('bench 1', 'pressure', 'bar').id };
};
const start = (store: ReturnType<typeof opened>, channel: number, from: number) =>
  ({ channel, from, plan: null, thresholds: store.keepVersion('thresholds', standardThresholds), instrument: null });

describe('the store', () => {
  it('gives samples, raw readings, flags and marks back as they came', () => {
    const { store, channel } = newStore();
    const writer = store.beginSegment(channel, { time: 100, wall: morning });
    for (let i = 0; i < 250; i++) writer.append(100 + i / 100, i === 7 ? NaN : heldPressure(i) * 1.0003, i === 7 ? 1 : 0, i === 7 ? NaN : heldPressure(i));
    writer.mark({ time: 101.5, kind: 'pump-off' });
    writer.mark({ time: 100.5, kind: 'lid-open', text: 'lid opened' });
    // 100 samples are still in memory here, the rest in the file: both are read.
    const trace = store.traceWindow(channel, 100.05, 102.4);
    expect(trace.time.length).toBe(236);
    expect(trace.time[0]).toBe(100.05);
    expect(trace.time[235]).toBe(102.4);
    expect(trace.pressure[2]).toBeNaN();
    expect(trace.flags[2]).toBe(1);
    expect(trace.pressure[235]).toBe(heldPressure(240) * 1.0003);
    expect(trace.raw?.[235]).toBe(heldPressure(240));
    expect(trace.marks).toEqual([{ time: 100.5, kind: 'lid-open', text: 'lid opened' }, { time: 101.5, kind: 'pump-off' }]);
    expect(trace.damaged).toEqual([]);
  });

  it('keeps the order received when times stand still or step back', () => {
    const { store, channel } = newStore();
    const writer = store.beginSegment(channel, { time: 0, wall: morning });
    const times = [10, 10.1, 10.1, 10.2, 10.15, 10.3, 5, 5.1, 5000, 5000.5];
    times.forEach((t, i) => { writer.append(t, i, 0); });
    writer.flush();
    const trace = store.traceWindow(channel, -Infinity, Infinity);
    expect([...trace.time]).toEqual(times);
    expect([...trace.pressure]).toEqual(times.map((_, i) => i));
    expect([...store.traceWindow(channel, 10.1, 10.2).pressure]).toEqual([1, 2, 3, 4]);
  });

  it('commits each second of samples by their times, and by the clock when samples stop', () => {
    const { path, store, channel } = newStore();
    const onDisk = () => {
      const { store: reader } = openStore(path, { software: 'reader', readOnly: true });
      try {
        return reader.newestSamples(channel, 1e6).time.length;
      } finally {
        reader.close();
      }
    };
    const writer = store.beginSegment(channel, { time: 50, wall: morning });
    for (let i = 0; i < 100; i++) writer.append(50 + i / 100, 1, 0);
    expect(onDisk()).toBe(0);
    writer.append(51, 1, 0);
    expect(onDisk()).toBe(100);
    store.tick(51.9);
    expect(onDisk()).toBe(100);
    store.tick(52);
    expect(onDisk()).toBe(101);
  });

  it('never lets the clock step back over a restart, even when the wall clock did', () => {
    const path = join(emptyFolder(), 'bench.db');
    let wall = morning;
    const first = openStore(path, { software: 'test', now: () => wall }).store;
    expect(first.clockStart()).toBe(1);
    const channel = first.channel('bench 1', 'pressure', 'bar').id;
    record(first, channel, 1, 500);
    first.close();
    wall += 3_600_500;
    const second = openStore(path, { software: 'test', now: () => wall }).store;
    expect(second.clockStart()).toBe(3601);
    record(second, channel, 3601, 100);
    second.close();
    wall -= 86_400_000;
    const third = opened(path, { now: () => wall });
    expect(third.clockStart()).toBe(3603);
    third.beginSegment(channel, { time: 3603, wall });
    expect(third.wallOf(channel, 3604)).toBe(wall + 1000);
    expect(third.wallOf(channel, 2)).toBe(morning + 2000);
  });

  it('numbers runs without holes over all benches and lists the newest first', () => {
    const { store, channel } = newStore();
    const other = store.channel('bench 2', 'pressure', 'bar').id;
    for (let i = 0; i < 5; i++) {
      const on = i % 2 === 0 ? channel : other;
      record(store, on, 10 * (i + 1), 50);
      expect(store.openRun(start(store, on, 10 * (i + 1)))).toBe(i + 1);
      store.finishRun(i + 1, { to: 10 * (i + 1) + 0.4, outcome: outcomeOf('inconclusive') });
    }
    expect(store.listRuns().map((run) => run.number)).toEqual([5, 4, 3, 2, 1]);
    expect(store.listRuns({ limit: 2, before: 4 }).map((run) => run.number)).toEqual([3, 2]);
    expect(store.listRuns({ bench: 'bench 2' }).map((run) => run.number)).toEqual([4, 2]);
    expect(store.traceOfRun(3).time.length).toBe(41);
  });

  it('keeps everything about a run', () => {
    const { store } = storeWithRuns(join(emptyFolder(), 'bench.db'), 2);
    const run = store.getRun(2);
    expect(run).toMatchObject({
      number: 2, bench: 'bench 1', state: 'finished', verdict: 'fail', from: 20, to: 23, planName: 'two-wire DN12 proof',
      fromWall: morning + 20_000, toWall: morning + 23_000, software: 'dwellkeeper test', outcome: outcomeOf('fail'),
      instrument: { resolution: 0.01, identity: 'PT-7, certificate 2026-014' },
    });
    expect(store.versions.get(run?.plan ?? '')?.content).toEqual({ plan: 'two-wire DN12 proof', testPressure: 550 });
    expect(store.versions.get(run?.thresholds ?? '')?.content).toEqual(standardThresholds);
    expect(store.entriesOf(2)).toMatchObject([{ who: 'J. Doe', entry: { kind: 'job', order: 'A-101' } }]);
  });

  it('hands back the run that was open when recording stopped, with its samples', () => {
    const path = join(emptyFolder(), 'bench.db');
    const first = openStore(path, { software: 'test', now: () => morning }).store;
    const channel = first.channel('bench 1', 'pressure', 'bar').id;
    record(first, channel, 10, 300);
    const run = first.openRun(start(first, channel, 11));
    first.addEvents(channel, [{ kind: 'stroke', at: 11.2, height: 3 }], run);
    first.close();

    const second = opened(path);
    const resumed = second.resumeOpenRun(channel, 0.5);
    expect(resumed?.run).toMatchObject({ number: run, state: 'open', from: 11, to: null, outcome: null });
    expect(resumed?.trace.time.length).toBe(250);
    expect(resumed?.trace.pressure[249]).toBe(heldPressure(299));
    expect(second.eventsOf(run).map((e) => e.event)).toEqual([{ kind: 'stroke', at: 11.2, height: 3 }]);
    expect(() => second.interruptRun(run, { to: 13, outcome: outcomeOf('pass') })).toThrow(/CHECK/);
    expect(second.interruptRun(run, { to: 13, outcome: outcomeOf('inconclusive') }).state).toBe('interrupted');
    expect(second.resumeOpenRun(channel)).toBeNull();
  });

  it('keeps a run as it was judged when samples and marks with earlier times come later', () => {
    const { store, channel } = newStore();
    const writer = store.beginSegment(channel, { time: 10, wall: morning });
    for (let i = 0; i < 100; i++) writer.append(10 + i / 100, heldPressure(i), 0);
    writer.mark({ time: 10.3, kind: 'pump-off' });
    const run = store.openRun(start(store, channel, 10));
    store.finishRun(run, { to: 11, outcome: outcomeOf('inconclusive') });
    for (const time of [11, 10.5, 11.5]) writer.append(time, 999, 0);
    writer.mark({ time: 10.7, kind: 'lid-open' });
    store.flush();
    store.compact();
    expect(store.traceOfRun(run).time.length).toBe(100);
    expect(Math.max(...store.traceOfRun(run).pressure)).toBeLessThan(600);
    expect(store.traceOfRun(run).marks).toEqual([{ time: 10.3, kind: 'pump-off' }]);
    expect(store.traceWindow(channel, 10, 11).time.length).toBe(102);
    expect(verifyLedger(store).breaches).toEqual([]);
  });

  it('lets the clock begin after a run whose samples were lost', () => {
    const path = join(emptyFolder(), 'bench.db');
    const first = openStore(path, { software: 'test', now: () => morning }).store;
    const channel = first.channel('bench 1', 'pressure', 'bar').id;
    first.openRun(start(first, channel, 42.5));
    first.close();
    expect(opened(path).clockStart()).toBe(44);
  });

  it('refuses to be written by two processes at once', () => {
    const { path } = newStore();
    expect(() => openStore(path, { software: 'second' })).toThrow(/in use by another running Dwellkeeper/);
  });

  it('makes its folder, and says when it cannot', () => {
    const folder = emptyFolder();
    const nested = join(folder, 'line 3', 'bench.db');
    opened(nested);
    expect(existsSync(nested)).toBe(true);
    writeFileSync(join(folder, 'file'), '');
    expect(() => openStore(join(folder, 'file', 'bench.db'), { software: 'test' })).toThrow(InputError);
    expect(() => openStore(join(folder, 'file', 'bench.db'), { software: 'test' })).toThrow(/bench\.db: cannot be written \(.+\); the store needs a folder/);
  });

  it('refuses an entry that is not well formed, from nobody, or about no run', () => {
    const { store } = storeWithRuns(join(emptyFolder(), 'bench.db'), 1);
    const before = store.ledger.last()?.number;
    expect(() => store.addEntry(1, { kind: 'visual-finding', finding: 'perfect' as 'no leakage seen' }, 'J. Doe')).toThrow(/run 1: finding/);
    expect(() => store.addEntry(1, { kind: 'note', text: 'seen' }, ' ')).toThrow(/run 1: who/);
    expect(() => store.addEntry(9, { kind: 'note', text: 'seen' }, 'J. Doe')).toThrow(/run 9: there is no such run/);
    expect(store.ledger.last()?.number).toBe(before);
  });
});

describe('what is over', () => {
  const attempts = [
    ['the verdict of a run', "UPDATE runs SET verdict = 'pass' WHERE number = 2"],
    ['the outcome of a run', "UPDATE runs SET outcome = '{}' WHERE number = 2"],
    ['reopening a run', "UPDATE runs SET state = 'open', verdict = NULL, outcome = NULL, ended = NULL WHERE number = 2"],
    ['deleting a run', 'DELETE FROM runs WHERE number = 2'],
    ['leaving a number out', "INSERT INTO runs (number, bench, channel, state, started, started_wall, thresholds, software) SELECT 9, bench, channel, 'open', 0, 0, thresholds, software FROM runs WHERE number = 1"],
    ['a run that begins finished', "INSERT INTO runs SELECT 3, bench, channel, state, verdict, started, ended, started_wall, ended_wall, plan, thresholds, instrument, software, outcome, samples_end, marks_end, read_from, read_to, read_lid FROM runs WHERE number = 2"],
    ['another event for a run', "INSERT INTO events (channel, run, kind, at, event) VALUES (1, 2, 'spike', 1, '{}')"],
    ['a mark', 'UPDATE marks SET time = 0'],
    ['an entry', "UPDATE entries SET content = '{}'"],
    ['deleting an entry', 'DELETE FROM entries'],
    ['a plan', "UPDATE versions SET content = '{}'"],
    ['a sealed record', "UPDATE ledger SET record = '{}'"],
    ['deleting a sealed record', 'DELETE FROM ledger'],
    ['the anchor of a segment', 'UPDATE segments SET wall = 0'],
  ] as const;
  it.each(attempts)('cannot be altered: %s', (_what, sql) => {
    const { store, channel } = storeWithRuns(join(emptyFolder(), 'bench.db'), 2);
    store.beginSegment(channel, { time: 90, wall: morning }).mark({ time: 90, kind: 'pump-on' });
    store.flush();
    const before = [store.getRun(2), store.entriesOf(2), [...store.ledger.all()]];
    expect(() => store.db.prepare(sql).run()).toThrow(/never|without holes|begins open|no more events/);
    expect([store.getRun(2), store.entriesOf(2), [...store.ledger.all()]]).toEqual(before);
  });

  it('cannot be finished twice', () => {
    const { store } = storeWithRuns(join(emptyFolder(), 'bench.db'), 1);
    expect(() => store.finishRun(1, { to: 13, outcome: outcomeOf('pass') })).toThrow(/run 1: is finished already/);
  });
});
