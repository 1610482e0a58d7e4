import { closeSync, existsSync, mkdirSync, openSync, readdirSync, readFileSync, renameSync, rmSync, statSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import Database from 'better-sqlite3';
import { describe, expect, it, onTestFinished } from 'vitest';
import type { NoticeNews } from '../../src/daemon/bench-listener.js';
import { openStore } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { HandBench } from './hand-bench.js';

const ends = ['', '-wal', '-shm'];

/** A bench with one run on record and another under pressure, and what people were told. */
function benchInMidRun() {
  const bench = new HandBench();
  onTestFinished(() => bench.clear());
  const told: NoticeNews[] = [];
  bench.daemon.listen({ noticed: (news) => told.push(news) });
  bench.daemon.start();
  tick(bench);
  bench.goodRun();
  seconds(bench, 4);
  bench.ramp(0, 560, 10);
  bench.ramp(560, 552, 2);
  tick(bench);
  expect(bench.daemon.openRun).toBe(2);
  bench.daemon.records?.addEntry(2, { kind: 'job', order: 'A-100', assemblies: ['H-1'] }, 'J. Doe');
  return { bench, told, path: join(bench.folder, 'records.sqlite') };
}

const tick = (bench: HandBench): void => bench.daemon['tick']();
/** The bench stands vented, and the daemon ticks. */
function seconds(bench: HandBench, count: number, bar = 0): void {
  for (let i = 0; i < count; i++) {
    bench.ramp(bar, bar, 1);
    tick(bench);
  }
}
/** The run goes on to its end, and another follows. */
function toTheEnd(bench: HandBench): void {
  seconds(bench, 10, 552);
  bench.ramp(552, 0, 1);
  seconds(bench, 8);
  bench.goodRun();
  seconds(bench, 4);
}
const shown = (bench: HandBench) => bench.daemon.feed.recentRuns(10).map(({ id, verdict }) => `${id} ${verdict}`);
const alarms = (bench: HandBench) => bench.daemon.feed.health().notices.filter(({ weight }) => weight === 'alarm').map(({ text }) => text);

/** Run 2 of the file before is run 3 of the new one, inconclusive and with the reason; all that was read since is there. */
function expectGoneOn(bench: HandBench, reason: RegExp, from: number): void {
  expect(bench.daemon.feed.health().recording).toBe(true);
  expect(shown(bench)).toEqual(['4 pass', '3 inconclusive']);
  bench.daemon.stop();
  bench.stored((store) => {
    const run = store.getRun(3);
    expect(run).toMatchObject({ state: 'finished', verdict: 'inconclusive', reading: null });
    expect(run?.outcome?.findings.at(-1)).toMatchObject({ rule: 'data', outcome: 'undecided', sentence: expect.stringMatching(reason) as string });
    expect(store.entriesOf(3).map(({ entry, who }) => [entry, who])).toEqual([[{ kind: 'job', order: 'A-100', assemblies: ['H-1'] }, 'J. Doe']]);
    const { time } = store.traceWindow(1, from, Infinity);
    expect(time.length).toBeGreaterThan(400);
    // Not one reading is missing: 20 a second.
    expect(Math.max(...[...time].slice(1).map((t, i) => t - time[i]!))).toBeLessThan(0.051);
    expect(time[0]).toBeLessThan(from + 0.051);
    const { breaches, again } = verifyLedger(store, { judgeAgain: true });
    expect(breaches).toEqual([]);
    expect(again).toMatchObject({ same: 1, remarks: [expect.stringMatching(/^run 3 was not judged again/)] });
    expect(store.db.pragma('integrity_check', { simple: true })).toBe('ok');
  });
}

describe('the file of the records under a running daemon', () => {
  it('that is deleted: an alarm, a new file with all of the run that was going on, which cannot pass', () => {
    const { bench, told, path } = benchInMidRun();
    const from = bench.daemon.feed.runSince() ?? NaN;
    seconds(bench, 1, 552);
    for (const end of ends) rmSync(path + end, { force: true });
    seconds(bench, 5, 552);
    expect(existsSync(path)).toBe(true);
    expect(alarms(bench)).toEqual([expect.stringMatching(/^records\.sqlite was deleted or moved away while it was in use\. A new store was begun, run numbers go on after 2; .+\. The run that was going on \(2 there\) goes on in the new one and cannot pass$/)]);
    expect(told.filter(({ subject }) => subject === 'file-lost')).toHaveLength(1);
    toTheEnd(bench);
    expectGoneOn(bench, /^the file of the records was taken away while this run went on; it is run 2 in the file that was taken away/, from);
  });

  it('that is moved away: it is whole where it is now, and is never written again', () => {
    const { bench, path } = benchInMidRun();
    const from = bench.daemon.feed.runSince() ?? NaN;
    const elsewhere = join(bench.folder, 'elsewhere');
    mkdirSync(elsewhere);
    const before = bench.stored((store) => store.newestSamples(1, 1e6).time.length);
    // The log stays behind, as when somebody moves what looks like the only file.
    renameSync(path, join(elsewhere, 'records.sqlite'));
    seconds(bench, 5, 552);
    const { store } = openStore(join(elsewhere, 'records.sqlite'), { software: 'test', readOnly: true });
    expect(store.newestSamples(1, 1e6).time.length).toBeGreaterThanOrEqual(before);
    expect(store.listRuns().map(({ number, state }) => `${number} ${state}`)).toEqual(['2 open', '1 finished']);
    const last = store.newestSamples(1, 1).time[0] ?? NaN;
    toTheEnd(bench);
    expect(store.newestSamples(1, 1).time[0]).toBe(last);
    store.close();
    expectGoneOn(bench, /^the file of the records was taken away/, from);
  });

  it('that another file was put in place of: that one is set aside, not lost', () => {
    const { bench, path } = benchInMidRun();
    const from = bench.daemon.feed.runSince() ?? NaN;
    const other = join(bench.folder, 'other');
    writeFileSync(other, 'order;serial\r\n'.repeat(1000));
    renameSync(other, path);
    seconds(bench, 5, 552);
    expect(alarms(bench)).toEqual([expect.stringMatching(/^another file was put in the place of records\.sqlite while that was in use; it was set aside as records\.sqlite\.found-\d{8}T\d{6}Z\. A new store/)]);
    const found = readdirSync(bench.folder).filter((name) => /\.found-\w+$/.test(name));
    expect(readFileSync(join(bench.folder, found[0] ?? ''), 'latin1')).toBe('order;serial\r\n'.repeat(1000));
    toTheEnd(bench);
    expectGoneOn(bench, /^the file of the records was taken away/, from);
  });

  it('whose whole folder is deleted', () => {
    const { bench, path } = benchInMidRun();
    const from = bench.daemon.feed.runSince() ?? NaN;
    rmSync(bench.folder, { recursive: true });
    seconds(bench, 5, 552);
    expect(existsSync(path)).toBe(true);
    toTheEnd(bench);
    expect(() => openStore(path, { software: 'second' })).toThrow(/in use by another running Dwellkeeper/);
    expectGoneOn(bench, /^the file of the records was taken away/, from);
  });

  // FC-28: a damaged database, met while it is in use
  it('that turns out to be damaged: set aside, and the run that was going on ends as inconclusive in the new one', () => {
    const { bench, told, path } = benchInMidRun();
    const records = bench.daemon.records ?? expect.fail('no store');
    records.db.pragma('wal_checkpoint(TRUNCATE)');
    const file = openSync(path, 'r+');
    for (let page = 1; page < statSync(path).size / 4096; page++) writeSync(file, Buffer.alloc(4096, 0xa5), 0, 4096, page * 4096);
    closeSync(file);
    records.db.pragma('shrink_memory'); // what it had read before is read again
    seconds(bench, 3, 552);
    expect(alarms(bench)).toEqual([expect.stringMatching(/^records\.sqlite was damaged \(.+\); it was set aside as records\.sqlite\.damaged-\w+ and a new store begun, .+\. The run that was going on \(2 there\) goes on in the new one and cannot pass$/)]);
    expect(told.filter(({ subject }) => subject === 'damaged-file-set-aside')).toHaveLength(1);
    toTheEnd(bench);
    expect(bench.daemon.feed.health().recording).toBe(true);
    expect(shown(bench)).toEqual(['4 pass', '3 inconclusive']);
    bench.daemon.stop();
    bench.stored((store) => {
      expect(store.getRun(3)?.outcome?.findings.at(-1)?.sentence).toMatch(/^the file of the records was found damaged while this run went on; it is run 2 in records\.sqlite\.damaged-\w+, and its record here is not whole$/);
      expect(verifyLedger(store, { judgeAgain: true }).breaches).toEqual([]);
    });
  });

  // FC-28, met at the start: a power cut in mid-run that took pages of the database with it
  it('that is found damaged at the start, after a power cut in mid-run: the run is on record in the new one as inconclusive', () => {
    const { bench, told, path } = benchInMidRun();
    const records = bench.daemon.records ?? expect.fail('no store');
    records.db.pragma('wal_checkpoint(TRUNCATE)');
    bench.daemon['running'].unsubscribe();
    records.db.close();
    rmSync(`${path}.lock`, { force: true });
    // One page of the readings; what the file says of its runs can still be read.
    const root = Number(new Database(path).prepare<[], number>("SELECT rootpage FROM sqlite_schema WHERE name = 'contents'").pluck().get());
    const file = openSync(path, 'r+');
    writeSync(file, Buffer.alloc(4096, 0xa5), 0, 4096, (root - 1) * 4096);
    closeSync(file);
    bench.wait(600);
    told.length = 0;
    bench.restart();
    expect(alarms(bench)).toEqual([expect.stringMatching(/^records\.sqlite was damaged \(.+\); it was set aside as records\.sqlite\.damaged-\w+ and a new store begun, run numbers go on after 2; run 2 was going on in it and is not over there\. On record here: run 3, inconclusive$/)]);
    expect(shown(bench)).toEqual(['3 inconclusive']);
    bench.goodRun();
    seconds(bench, 4);
    expect(shown(bench)).toEqual(['4 pass', '3 inconclusive']);
    bench.daemon.stop();
    bench.stored((store) => {
      const run = store.getRun(3);
      expect(run).toMatchObject({ state: 'interrupted', verdict: 'inconclusive', planName: 'short proof' });
      expect(run?.outcome?.findings).toMatchObject([{ rule: 'data', outcome: 'undecided', sentence: expect.stringMatching(/it is run 2 in records\.sqlite\.damaged-\w+, began at 2027-03-01 09:0\d UTC, and none of its readings is here$/) as string }]);
      expect(store.entriesOf(3).map(({ entry, who }) => [entry, who])).toEqual([[{ kind: 'job', order: 'A-100', assemblies: ['H-1'] }, 'J. Doe']]);
      expect(verifyLedger(store, { judgeAgain: true }).breaches).toEqual([]);
    });
  });

  it('that cannot be begun anew at once: nothing is lost meanwhile, and it is told', () => {
    const { bench, path } = benchInMidRun();
    const from = bench.daemon.feed.runSince() ?? NaN;
    for (const end of ends) rmSync(path + end, { force: true });
    mkdirSync(join(path, 'in the way'), { recursive: true });
    // A folder in its place is set aside like any file; the lock's place taken by a folder keeps the store from beginning.
    rmSync(`${path}.lock`);
    mkdirSync(`${path}.lock`);
    seconds(bench, 5, 552);
    expect(bench.daemon.feed.health().recording).toBe(false);
    expect(alarms(bench)).toEqual([expect.stringMatching(/^not recording: the store cannot be written/)]);
    rmSync(`${path}.lock`, { recursive: true });
    seconds(bench, 2, 552);
    toTheEnd(bench);
    expectGoneOn(bench, /^the file of the records was taken away/, from);
  });
});
