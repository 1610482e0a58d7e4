import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { openStore, type Store } from '../../src/records/store.js';
import { Connection } from '../../src/sinks/influx/connection.js';
import { Forwarder } from '../../src/sinks/influx/forwarder.js';
import { RefusedLines } from '../../src/sinks/influx/refused-lines.js';
import { Spool } from '../../src/sinks/influx/spool.js';
import type { DatabaseServer } from './database-server.js';
import { fleetTrace } from './fleet-trace.js';

export interface FleetSize {
  readonly benches: number;
  /** s of trace of each */
  readonly seconds: number;
  /** readings a second of each */
  readonly rate: number;
}

/** What a fleet came to in one database. */
export interface FleetResult {
  readonly points: number;
  /** Points a second, from the first to the last, all benches together. */
  readonly pointsPerSecond: number;
  /** What is not as the stores hold it, one sentence a bench; empty when nothing is lost. */
  readonly differences: readonly string[];
}

const database = 'fleet';
const patience = 120_000;

/** Stores of many benches, each as a daemon would have left it. */
export class Fleet {
  private readonly folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-fleet-'));
  private readonly benches: readonly { readonly name: string; readonly path: string; readonly store: Store; readonly channel: number }[];

  constructor(
    readonly size: FleetSize,
    private readonly told: (text: string) => void = () => undefined,
  ) {
    const wall = Date.UTC(2026, 1, 3, 8);
    this.benches = Array.from({ length: size.benches }, (_, i) => {
      const name = `bench ${i + 1}`;
      const path = join(this.folder, `bench-${i + 1}.sqlite`);
      const { store } = openStore(path, { software: 'fleet', now: () => wall });
      const channel = store.channel(name, 'pressure', 'bar').id;
      const writer = store.beginSegment(channel, { time: 100, wall: wall + 100_000 });
      const { time, pressure } = fleetTrace(i, size.seconds, size.rate, 100);
      time.forEach((t, k) => writer.append(t, pressure[k] ?? NaN, 0));
      store.flush();
      store.compact();
      this.told(`${i + 1} of ${size.benches} stores`);
      return { name, path, store, channel };
    });
  }

  /** Feeds all stores into a database at once, then compares what it has with what they hold. */
  async feed(server: DatabaseServer): Promise<FleetResult> {
    const began = performance.now();
    const forwarders = this.benches.map(({ path }) => {
      const connection = new Connection({ url: server.url, database, login: () => null });
      return new Forwarder({
        target: connection.target, spool: new Spool(path, connection.target), database: connection, refused: new RefusedLines(`${path}.refused`), health: null,
        backlog: 3650 * 86_400, thinnedTo: 10, pointsPerSecond: 1_000_000, log: { info: () => undefined, warn: () => undefined }, pace: { look: 10 },
      });
    });
    forwarders.forEach((forwarder) => forwarder.start());
    try {
      for (let waiting = Infinity, progress = performance.now(); waiting > 0; ) {
        await new Promise((resolve) => setTimeout(resolve, 50));
        const still = forwarders.reduce((sum, forwarder) => sum + forwarder.state().waiting, 0);
        if (still < waiting) progress = performance.now();
        else if (performance.now() - progress > patience) throw new Error(`nothing was forwarded for ${patience / 1000} s: ${forwarders.map((one) => one.state().trouble ?? '').find(Boolean) ?? 'for no known reason'}`);
        waiting = still;
      }
    } finally {
      await Promise.all(forwarders.map((forwarder) => forwarder.stop()));
    }
    const seconds = (performance.now() - began) / 1000;
    const differences: string[] = [];
    let points = 0;
    for (const { name, store, channel } of this.benches) {
      const { time, pressure } = store.traceWindow(channel, -Infinity, Infinity);
      const found = await server.samplesOf(database, name);
      points += found.length;
      const wrong = [...pressure].findIndex((p, i) => {
        const got = found[i];
        return got?.pressure !== p || Math.abs(got.stamp - store.wallOf(channel, time[i] ?? NaN)) > 1;
      });
      if (found.length !== pressure.length) differences.push(`${name} has ${found.length} points, not ${pressure.length}`);
      else if (wrong >= 0) differences.push(`${name}: point ${wrong} is ${JSON.stringify(found[wrong])}, not ${pressure[wrong]} bar`);
    }
    return { points, pointsPerSecond: points / seconds, differences };
  }

  /** Closes and removes the stores. */
  end(): void {
    for (const { store } of this.benches) store.close();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
