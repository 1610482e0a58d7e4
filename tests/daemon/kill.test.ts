import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer, type AddressInfo, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { openStore } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { bundledEntry } from '../records/bundled-entry.js';

/** Kills: few in the suite, more with `KILLS=300` (`npm run kill-test`). */
const kills = Number(process.env['KILLS'] ?? 25);
/** Readings a second. */
const rate = 1000;

/** Runs of 8 s for ever: 550 bar, held for 4 s; every reading differs a little from its neighbours. */
function pressureAt(i: number): number {
  const t = (i / rate) % 8;
  const bar = t < 1 ? 0.3 : t < 2.5 ? ((t - 1) / 1.5) * 552 : t < 6.5 ? 551 : t < 7 ? 551 * (1 - (t - 6.5) / 0.5) : 0.3;
  return Math.round((bar + ((i * 7919) % 29) / 100) * 100) / 100;
}

/** An instrument that goes on wherever the last connection ended. */
class Instrument {
  /** Readings sent before each connection of the present life: a busy computer may need more than one. */
  bases: number[] = [];
  private sent = 0;
  private server: Server | null = null;

  async begin(): Promise<number> {
    const server = createServer((socket) => {
      socket.on('error', () => socket.destroy());
      const base = this.sent;
      this.bases.push(base);
      const began = performance.now();
      let next = base;
      const timer = setInterval(() => {
        const due = base + Math.floor((performance.now() - began) * (rate / 1000));
        let text = '';
        for (; next < due; next++) text += `${pressureAt(next).toFixed(2)}\r\n`;
        this.sent = Math.max(this.sent, next);
        socket.write(text);
      }, 5);
      socket.on('close', () => clearInterval(timer));
    });
    this.server = server;
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    return (server.address() as AddressInfo).port;
  }

  /** The first reading that was not sent just so, one after the other from where a connection began; `null` when all were. */
  notAsSent(pressures: Float64Array): number | null {
    const bases = [...this.bases];
    let next = bases.shift() ?? NaN;
    for (const [i, pressure] of pressures.entries()) {
      while (pressure !== pressureAt(next)) {
        const base = bases.shift();
        if (base === undefined) return i;
        next = base;
      }
      next++;
    }
    return null;
  }

  end(): Promise<void> {
    return new Promise((resolve) => (this.server === null ? resolve() : this.server.close(() => resolve())));
  }
}

let entry: Awaited<ReturnType<typeof bundledEntry>>;
const instrument = new Instrument();
let port: number;
const folder = mkdtempSync(join(tmpdir(), 'kill-'));
beforeAll(async () => {
  entry = await bundledEntry('tests/daemon/endless-daemon.ts', ['store-worker']);
  port = await instrument.begin();
});
afterAll(async () => {
  await instrument.end();
  entry.remove();
  rmSync(folder, { recursive: true, force: true });
});

interface Life {
  /** s, when it began and its newest reading, on the store's clock. */
  readonly from: number;
  readonly newest: number;
  readonly heard: number;
  readonly safe: number;
  /** s, the oldest reading that was not on the disk yet. */
  readonly since: number;
}

/** ms that a daemon lives at most, from its beginning or from its first commit on. */
const life = 1100;

/**
 * Lets the daemon run, then kills it with no warning: every other one at any moment from its beginning on, the others at
 * any moment after something is on the disk, so that there always is what could be lost.
 */
async function killedDaemon(waitsForCommit: boolean): Promise<Life> {
  instrument.bases = [];
  const child = spawn(process.execPath, [entry.path, folder, String(port)], { stdio: ['ignore', 'pipe', 'inherit'] });
  let told: Life = { from: NaN, newest: NaN, heard: 0, safe: 0, since: NaN };
  let doomed = false;
  for await (const line of createInterface({ input: child.stdout })) {
    const from = /^from (\S+)$/.exec(line)?.[1];
    const state = /^heard (\d+) at (\S+), safe (\d+), waiting since (\S+)$/.exec(line);
    if (from !== undefined) told = { ...told, from: Number(from) };
    if (state !== null) told = { ...told, heard: Number(state[1]), newest: Number(state[2]), safe: Number(state[3]), since: Number(state[4]) };
    if (doomed || (waitsForCommit && told.safe === 0)) continue;
    doomed = true;
    setTimeout(() => child.kill('SIGKILL'), Math.random() * (waitsForCommit ? life / 2 : life));
  }
  if (child.exitCode === null && child.signalCode === null) await once(child, 'exit');
  expect(child.signalCode).toBe('SIGKILL');
  return told;
}

// FC-29 (a)
describe(`a daemon that reads ${rate} readings a second, killed ${kills} times`, () => {
  it('keeps all that it acknowledged, loses less than a second each time, and says so in the record', { timeout: 60_000 + kills * 10_000 }, async () => {
    const path = join(folder, 'records.sqlite');
    const tally = { acknowledged: 0, lost: 0, mostLost_s: 0 };
    let last: Life | null = null;
    for (let kill = 0; kill < kills; kill++) {
      const life = await killedDaemon(kill % 2 === 0);
      const { store, notices } = openStore(path, { software: 'test' });
      expect(notices).toEqual([]);
      expect(store.db.pragma('integrity_check', { simple: true })).toBe('ok');
      expect(verifyLedger(store).breaches).toEqual([]);
      const trace = store.traceWindow(1, life.from, Infinity);
      expect(trace.time.length).toBeGreaterThanOrEqual(life.safe);
      // No reading is missing between others, and none was changed.
      const wrong = instrument.notAsSent(trace.pressure);
      if (wrong !== null) expect.fail(`reading ${wrong} of life ${kill}, ${trace.pressure[wrong]} bar, was not sent so`);
      const inFlight = life.heard === 0 ? 0 : Math.max(0, life.newest - Math.max(life.since, trace.time.at(-1) ?? life.from));
      expect(inFlight).toBeLessThanOrEqual(1);
      if (last !== null && trace.time.length > 0) {
        const marks = store.traceWindow(1, last.from, life.from + 60).marks.filter(({ time }) => time >= last!.from);
        const told = marks.find(({ kind, time }) => kind === 'signal-back' && time >= life.from && time <= (trace.time[0] ?? 0));
        expect(told?.text).toMatch(/^the program was not running for \d+ s$/);
      }
      tally.acknowledged += life.safe;
      tally.lost += Math.max(0, life.heard - trace.time.length);
      tally.mostLost_s = Math.max(tally.mostLost_s, inFlight);
      last = life;
      expect(store.runs.openOnes().length).toBeLessThanOrEqual(1);
      store.close();
      if (process.env['KILLS'] !== undefined && kill % 25 === 24) console.log({ kill: kill + 1, ...tally });
    }
    const { store } = openStore(path, { software: 'test' });
    const runs = store.listRuns({ limit: 1e6 });
    expect(runs.map(({ number }) => number)).toEqual(runs.map((_, i) => runs.length - i));
    for (const { number, verdict } of runs) {
      // A run that went on over a kill never passes.
      if (verdict === 'pass') expect(store.traceOfRun(number).marks.filter(({ kind }) => kind === 'signal-lost')).toEqual([]);
    }
    expect(runs.length).toBeGreaterThan(0);
    expect(tally.acknowledged).toBeGreaterThan(kills * 100);
    store.close();
    if (process.env['KILLS'] !== undefined) console.log({ kills, runs: runs.length, ...tally });
  });
});
