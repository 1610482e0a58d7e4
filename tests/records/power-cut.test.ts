import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { closeSync, existsSync, openSync, readdirSync, readFileSync, statSync, truncateSync, writeFileSync, writeSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import Database from 'better-sqlite3';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openStore } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { bundledEntry } from './bundled-entry.js';
import { emptyFolder, heldPressure, morning, opened, outcomeOf, record, storeWithRuns } from './example-store.js';

let entry: Awaited<ReturnType<typeof bundledEntry>>;
beforeAll(async () => {
  entry = await bundledEntry('tests/records/endless-recorder.ts');
});
afterAll(() => {
  entry.remove();
});

/** Lets the recorder run until it has told `lines` commits and `more` ms, then kills it with no warning. */
async function killedRecorder(path: string, lines: number, more: number): Promise<{ from: number; taken: number; safe: number; sealed: number[] }> {
  const child = spawn(process.execPath, [entry.path, path], { stdio: ['ignore', 'pipe', 'inherit'] });
  const told = { from: NaN, taken: 0, safe: 0, sealed: [] as number[] };
  let commits = 0;
  for await (const line of createInterface({ input: child.stdout })) {
    const [, what, number] = /^(.+) (\d+)$/.exec(line) ?? [];
    if (what === 'from') told.from = Number(number);
    if (what === 'taken') told.taken = Number(number);
    if (what === 'sealed') told.sealed.push(Number(number));
    if (what === 'on disk') told.safe = Number(number);
    if (what === 'on disk' && ++commits === lines) setTimeout(() => child.kill('SIGKILL'), more);
  }
  if (child.exitCode === null && child.signalCode === null) await once(child, 'exit');
  expect(child.signalCode).toBe('SIGKILL');
  return told;
}

// FC-29: power loss and the local database.
describe('after the power was cut', () => {
  it('everything acknowledged is there, 25 times in a row on one file', { timeout: 600_000 }, async () => {
    const path = join(emptyFolder(), 'bench.db');
    const sealed: number[] = [];
    for (let cut = 0; cut < 25; cut++) {
      const told = await killedRecorder(path, 1 + Math.floor(Math.random() * 9), Math.random() * 25);
      sealed.push(...told.sealed);
      const { store, notices } = openStore(path, { software: 'test' });
      expect(notices).toEqual([]);
      expect(store.db.pragma('integrity_check', { simple: true })).toBe('ok');
      const channel = store.channel('bench 1', 'pressure', 'bar').id;
      const trace = store.traceWindow(channel, told.from, Infinity);
      expect(trace.time.length).toBeGreaterThanOrEqual(told.safe);
      // At most the last second is lost: 1,000 samples, and the 100 between two looks at the clock.
      expect(trace.time.length).toBeGreaterThanOrEqual(told.taken - 1100);
      trace.time.forEach((time, i) => {
        if (time !== told.from + i / 1000 || trace.pressure[i] !== heldPressure(i)) expect.fail(`sample ${i} of cut ${cut} is ${trace.pressure[i]} bar at ${time} s`);
      });
      for (const number of sealed) expect(store.getRun(number)?.state).toBe('finished');
      expect(store.runs.openOnes().length).toBeLessThanOrEqual(1);
      expect(verifyLedger(store).breaches).toEqual([]);
      store.close();
    }
    const { store } = openStore(path, { software: 'test' });
    const runs = store.listRuns({ limit: 1e6 });
    expect(runs.map((run) => run.number)).toEqual(runs.map((_, i) => runs.length - i));
    expect(runs.filter((run) => run.state !== 'open').every((run) => run.verdict === 'inconclusive')).toBe(true);
    store.close();
  });

  it('a log cut short anywhere leaves what was committed before, in order', async () => {
    const folder = emptyFolder();
    const path = join(folder, 'bench.db');
    const told = await killedRecorder(path, 12, 0);
    const log = readFileSync(`${path}-wal`);
    const main = readFileSync(path);
    expect(log.length).toBeGreaterThan(10_000);
    for (let i = 0; i < 12; i++) {
      const copy = join(folder, `copy-${i}.db`);
      writeFileSync(copy, main);
      writeFileSync(`${copy}-wal`, log.subarray(0, Math.floor((log.length * i) / 12) + 7 * i));
      const { store, notices } = openStore(copy, { software: 'test' });
      expect(notices).toEqual([]);
      expect(store.db.pragma('integrity_check', { simple: true })).toBe('ok');
      for (const { id } of store.channels.list()) {
        const trace = store.traceWindow(id, told.from, Infinity);
        expect([...trace.time]).toEqual([...trace.time].map((_, k) => told.from + k / 1000));
      }
      expect(verifyLedger(store).breaches).toEqual([]);
      store.close();
    }
  });
});

describe('a damaged file', () => {
  const damages: [string, (path: string) => void][] = [
    ['is empty', (path) => { truncateSync(path, 0); }],
    ['holds only NULs', (path) => { writeFileSync(path, Buffer.alloc(statSync(path).size)); }],
    ['lost its first page', (path) => {
      const file = openSync(path, 'r+');
      writeSync(file, Buffer.alloc(4096, 0xa5), 0, 4096, 0);
      closeSync(file);
    }],
    ['is cut off', (path) => { truncateSync(path, Math.floor(statSync(path).size / 2 / 4096) * 4096); }],
    ['has pages overwritten', (path) => {
      const file = openSync(path, 'r+');
      const pages = statSync(path).size / 4096;
      for (let page = 1; page < pages; page += 2) writeSync(file, Buffer.alloc(4096, 0xa5), 0, 4096, page * 4096);
      closeSync(file);
    }],
  ];
  it.each(damages)('that %s is set aside, and a new one begun', (_what, damage) => {
    const folder = emptyFolder();
    const path = join(folder, 'bench.db');
    storeWithRuns(path, 2).store.close();
    damage(path);
    const damaged = readFileSync(path);
    const { store, notices } = openStore(path, { software: 'test', now: () => morning });
    expect(notices).toHaveLength(1);
    expect(notices[0]).toMatchObject({ code: 'damaged-file-set-aside', file: `${path}.damaged-20260203T080000Z` });
    expect(notices[0]?.sentence).toMatch(/bench\.db was damaged \(.+\); it was set aside as bench\.db\.damaged-20260203T080000Z and a new store begun/);
    expect(readFileSync(notices[0]?.file ?? '').equals(damaged)).toBe(true);
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    record(store, channel, 5, 100);
    expect(store.newestSamples(channel, 1000).time.length).toBe(100);
    expect(verifyLedger(store).intact).toBe(true);
    store.close();
    expect(openStore(path, { software: 'test' }).notices).toEqual([]);
  });

  it('hands its last run number and seal on, as far as they can be read', () => {
    const path = join(emptyFolder(), 'bench.db');
    const { store: old } = storeWithRuns(path, 3);
    const seal = old.ledger.last()?.seal;
    const rootOf = (table: string) => old.db.prepare<[string], number>('SELECT rootpage FROM sqlite_schema WHERE name = ?').pluck().get(table) ?? 0;
    const page = rootOf('contents');
    old.close();
    const file = openSync(path, 'r+');
    writeSync(file, Buffer.alloc(4096, 0xa5), 0, 4096, (page - 1) * 4096);
    closeSync(file);
    const { store, notices } = openStore(path, { software: 'test' });
    expect(notices[0]?.sentence).toMatch(/run numbers go on after 3$/);
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const to = record(store, channel, 5, 100);
    const run = store.openRun({ channel, from: 5, plan: null, thresholds: store.keepVersion('thresholds', {}), instrument: null });
    expect(run).toBe(4);
    store.finishRun(run, { to, outcome: outcomeOf('inconclusive') });
    expect([...store.ledger.all()].map((row) => row.previous)).toEqual([seal]);
    expect(verifyLedger(store).intact).toBe(true);
    store.close();
  });

  it('of another program is left alone', () => {
    const folder = emptyFolder();
    const path = join(folder, 'invoices.db');
    const other = new Database(path);
    other.exec('CREATE TABLE invoices (id INTEGER PRIMARY KEY)');
    other.close();
    const before = readFileSync(path);
    expect(() => openStore(path, { software: 'test' })).toThrow(/invoices\.db: is a database of another program/);
    expect(readFileSync(path).equals(before)).toBe(true);
    expect(readdirSync(folder).filter((name) => name.includes('damaged'))).toEqual([]);
  });

  it.each<[string, string | Buffer]>([
    ['a trace', 'time_s,pressure_bar\r\n0,1\r\n'.repeat(500)],
    ['a short note', 'x'],
    ['a picture', Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 13])],
    ['text in two bytes a letter', Buffer.from('\ufefftime;pressure', 'utf16le')],
  ])('that is %s and no store is left alone', (_what, content) => {
    const folder = emptyFolder();
    const path = join(folder, 'notes.txt');
    writeFileSync(path, content);
    for (const readOnly of [false, true]) {
      expect(() => openStore(path, { software: 'test', readOnly })).toThrow(`${path}: is not a Dwellkeeper store; name another file for the store, this one was left as it is`);
    }
    expect(readFileSync(path).equals(Buffer.from(content))).toBe(true);
    expect(readdirSync(folder)).toEqual(['notes.txt']);
  });

  it('that became text is left alone, even with the lock of a store beside it', () => {
    const folder = emptyFolder();
    const path = join(folder, 'bench.db');
    storeWithRuns(path, 1).store.close();
    writeFileSync(path, 'time_s,pressure_bar\r\n0,1\r\n'.repeat(500));
    expect(() => openStore(path, { software: 'test' })).toThrow('is not a Dwellkeeper store');
  });

  it('that is a folder is left alone', () => {
    const folder = emptyFolder();
    for (const readOnly of [false, true]) {
      expect(() => openStore(folder, { software: 'test', readOnly })).toThrow(`${folder}: is a folder; the store should be a file, for example records.sqlite`);
    }
  });

  it('without bytes is not read', () => {
    const path = join(emptyFolder(), 'bench.db');
    writeFileSync(path, '');
    expect(() => openStore(path, { software: 'test', readOnly: true })).toThrow('bench.db: has no bytes; name a store that a bench has recorded into');
  });

  it('of a later version is left alone', () => {
    const path = join(emptyFolder(), 'bench.db');
    const { store } = storeWithRuns(path, 1);
    store.db.pragma('user_version = 99');
    store.close();
    expect(() => openStore(path, { software: 'test' })).toThrow(/later version of Dwellkeeper/);
    expect(existsSync(path)).toBe(true);
  });

  it('is not made by a reader', () => {
    const path = join(emptyFolder(), 'bench.db');
    expect(() => openStore(path, { software: 'test', readOnly: true })).toThrow(/there is no such file/);
    expect(existsSync(path)).toBe(false);
  });
});

describe('one damaged block', () => {
  it('costs its own samples only, is marked as a gap and survives merging', () => {
    const path = join(emptyFolder(), 'bench.db');
    const store = opened(path);
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    record(store, channel, 100, 1000);
    store.db.prepare("UPDATE contents SET samples = x'010203040506' WHERE block = (SELECT id FROM blocks WHERE earliest = 104)").run();
    const check = () => {
      const trace = store.traceWindow(channel, 0, 150);
      expect(trace.time.length).toBe(900);
      expect(trace.damaged).toEqual([{ from: 104, to: 104.99 }]);
      expect(trace.marks.map(({ time, kind }) => [time, kind])).toEqual([[104, 'signal-lost'], [104.99, 'signal-back']]);
      const { first } = store.envelope(channel, 100, 110, 10);
      expect([...first].map((p) => Number.isNaN(p))).toEqual([false, false, false, false, true, false, false, false, false, false]);
    };
    check();
    store.beginSegment(channel, { time: 200, wall: morning });
    record(store, channel, 200, 100);
    store.compact();
    check();
  });
});
