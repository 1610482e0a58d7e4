import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import { openStore, type Store } from '../../../src/records/store.js';
import type { TraceWriter } from '../../../src/records/trace-writer.js';
import { Connection, type Database } from '../../../src/sinks/influx/connection.js';
import { Forwarder, type ForwarderSetup } from '../../../src/sinks/influx/forwarder.js';
import { RefusedLines } from '../../../src/sinks/influx/refused-lines.js';
import { Spool } from '../../../src/sinks/influx/spool.js';

/** 2026-02-03 08:00 UTC, ms. */
export const morning = Date.UTC(2026, 1, 3, 8);

/** A pressure of the test: many digits, both signs, never twice the same in a row. */
export const pressureAt = (i: number): number => 550 + ((i * 7919) % 1000) / 100 - (i % 13) / 8;

/** A store with one channel, whose wall clock is the test's. */
export class ForwardedStore {
  readonly path: string;
  readonly store: Store;
  readonly channel: number;
  private writer: TraceWriter;
  /** Samples appended. */
  count = 0;

  constructor(readonly bench = 'bench 1', from = 100, wall = morning + from * 1000) {
    const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-forward-'));
    this.path = join(folder, 'records.sqlite');
    this.store = openStore(this.path, { software: 'test', now: () => morning }).store;
    this.channel = this.store.channel(bench, 'pressure', 'bar').id;
    this.writer = this.store.beginSegment(this.channel, { time: from, wall });
    onTestFinished(() => {
      this.store.close();
      rmSync(folder, { recursive: true, force: true });
    });
  }

  /** A new tie to the calendar: at `time` (s) the clock shows `wall` (ms). */
  segment(time: number, wall: number): void {
    this.writer = this.store.beginSegment(this.channel, { time, wall });
  }

  sample(time: number, pressure = pressureAt(this.count), flags = 0): void {
    this.writer.append(time, pressure, flags);
    this.count++;
  }

  /** `count` samples, `rate` a second from `from` s on, safe on the disk. */
  samples(from: number, count: number, rate = 100): void {
    for (let i = 0; i < count; i++) this.sample(Math.round((from + i / rate) * 1e6) / 1e6);
    this.store.flush();
  }

  /** What the database must have: the wall clock (ms) and pressure of every sample of the store that has one. */
  expected(): { stamp: number; pressure: number }[] {
    const { time, pressure } = this.store.traceWindow(this.channel, -Infinity, Infinity);
    return [...time].flatMap((t, i) => (Number.isNaN(pressure[i]) ? [] : [{ stamp: this.store.wallOf(this.channel, t), pressure: pressure[i] ?? NaN }]));
  }
}

export interface ForwarderOptions extends Partial<Omit<ForwarderSetup, 'database' | 'spool'>> {
  readonly url?: URL;
  readonly database?: Database;
  /** Name in the database server. */
  readonly name?: string;
  readonly patience?: number;
  /** ms that what was acknowledged needs to be beyond doubt. */
  readonly settle?: number;
}

/** A forwarder of a store that does not wait long; stopped after the test. */
export function forwarding(path: string, { url = new URL('http://127.0.0.1:9'), database, name = 'rig', patience = 1000, settle = 0, ...setup }: ForwarderOptions): Forwarder {
  const connection = new Connection({ url, database: name, login: () => null, patience });
  const forwarder = new Forwarder({
    target: connection.target, spool: new Spool(path, connection.target), database: database ?? connection, refused: new RefusedLines(`${path}.refused`), health: null,
    backlog: 30 * 86_400, thinnedTo: 10, pointsPerSecond: 1_000_000, log: { info: () => undefined, warn: () => undefined },
    pace: { look: 20, firstRetry: 20, longestRetry: 200, settle }, ...setup,
  });
  forwarder.start();
  onTestFinished(() => forwarder.stop());
  return forwarder;
}

/** Whether everything of the store is in the database. */
export const isUpToDate = (forwarder: Forwarder): boolean => forwarder.state().waiting === 0;
