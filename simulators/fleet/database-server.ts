import { spawn, type ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Engine } from '../../src/sinks/influx/settings.js';

/** A port that nobody uses just now. */
export async function freePort(): Promise<number> {
  const probe = createServer().listen(0, '127.0.0.1');
  await once(probe, 'listening');
  const address = probe.address();
  probe.close();
  await once(probe, 'close');
  if (address === null || typeof address === 'string') throw new Error('no port');
  return address.port;
}

const influxdSettings = (folder: string, port: number, control: number) => `reporting-disabled = true
bind-address = "127.0.0.1:${control}"
[meta]
  dir = "${folder}/meta"
  retention-autocreate = true
[data]
  dir = "${folder}/data"
  wal-dir = "${folder}/wal"
  index-version = "tsi1"
  cache-snapshot-write-cold-duration = "3s"
  compact-full-write-cold-duration = "5s"
[http]
  bind-address = "127.0.0.1:${port}"
  log-enabled = false
[monitor]
  store-enabled = false
[subscriber]
  enabled = false
[continuous_queries]
  enabled = false
`;

/** A real database in a folder of its own, that can be stopped, killed, frozen and started again. */
export class DatabaseServer {
  private child: ChildProcess | null = null;

  private constructor(
    readonly engine: Engine,
    readonly folder: string,
    readonly port: number,
    private readonly control: number,
  ) {}

  static async begin(engine: Engine): Promise<DatabaseServer> {
    const server = new DatabaseServer(engine, mkdtempSync(join(tmpdir(), 'dwellkeeper-database-')), await freePort(), await freePort());
    await server.start();
    return server;
  }

  get url(): URL {
    return new URL(`http://127.0.0.1:${this.port}`);
  }

  async start(): Promise<void> {
    const { folder, port, control } = this;
    const settings = join(folder, 'influxdb.conf');
    writeFileSync(settings, influxdSettings(folder, port, control));
    this.child =
      this.engine === 'influxdb'
        ? spawn('influxd', ['run', '-config', settings], { stdio: 'ignore' })
        : spawn('victoria-metrics', [`-storageDataPath=${folder}/vm`, `-httpListenAddr=127.0.0.1:${port}`, '-retentionPeriod=100y', '-dedup.minScrapeInterval=1ms', '-search.maxUniqueTimeseries=10000'], { stdio: 'ignore' });
    const deadline = performance.now() + 30_000;
    while ((await this.asked('/ping')) !== 204) {
      if (performance.now() > deadline) throw new Error(`${this.engine} does not answer within 30 s`);
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
  }

  /** @returns the status; 0 when nobody answers */
  private async asked(path: string): Promise<number> {
    try {
      return (await fetch(new URL(path, this.url), { signal: AbortSignal.timeout(1000) })).status;
    } catch {
      return 0;
    }
  }

  get isUp(): boolean {
    return this.child !== null;
  }

  async stop(signal: 'SIGTERM' | 'SIGKILL' = 'SIGTERM'): Promise<void> {
    const { child } = this;
    this.child = null;
    if (child === null || child.exitCode !== null || child.signalCode !== null) return;
    const gone = once(child, 'exit');
    child.kill(signal);
    child.kill('SIGCONT');
    await gone;
  }

  /** Takes connections and answers nothing. */
  freeze(): void {
    this.child?.kill('SIGSTOP');
  }

  thaw(): void {
    this.child?.kill('SIGCONT');
  }

  /** bytes on the disk, once everything is there and merged: of the data, and of what is kept beside it. The database is stopped. */
  async size(): Promise<{ data: number; beside: number }> {
    if (this.engine === 'victoria-metrics') for (const action of ['flush', 'merge']) await fetch(new URL(`/internal/force_${action}`, this.url));
    const isData = (name: string) => (this.engine === 'influxdb' ? name.endsWith('.tsm') : name.startsWith('vm/data/'));
    const measured = () => {
      const sizes = { data: 0, beside: 0 };
      for (const name of readdirSync(this.folder, { recursive: true, encoding: 'utf8' })) {
        const found = statSync(join(this.folder, name), { throwIfNoEntry: false });
        // What is really taken: a file may be longer than the blocks it has.
        if (found?.isFile() === true) sizes[isData(name) ? 'data' : 'beside'] += found.blocks * 512;
      }
      return sizes;
    };
    // A log that is still to be made into data files counts as neither: wait until nothing changes any more.
    for (let [last, since, begun] = ['', 0, performance.now()]; performance.now() - since < 15_000 && performance.now() - begun < 120_000; ) {
      await new Promise((resolve) => setTimeout(resolve, 500));
      const now = JSON.stringify(measured());
      if (now !== last) [last, since] = [now, performance.now()];
    }
    await this.stop();
    return measured();
  }

  async end(): Promise<void> {
    await this.stop('SIGKILL');
    rmSync(this.folder, { recursive: true, force: true });
  }

  /** Rows of an InfluxQL query, of all series together; times are in µs. */
  async rows(database: string, query: string): Promise<Record<string, unknown>[]> {
    const parameters = new URLSearchParams({ db: database, q: query, epoch: 'u', chunked: 'false' });
    const response = await fetch(new URL(`/query?${parameters.toString()}`, this.url));
    const answer = (await response.json()) as { results?: { error?: string; series?: { tags?: Record<string, string>; columns: string[]; values: unknown[][] }[] }[]; error?: string };
    const failed = answer.error ?? answer.results?.find(({ error }) => error !== undefined)?.error;
    if (failed !== undefined) throw new Error(`${query}: ${failed}`);
    return (answer.results ?? []).flatMap(({ series = [] }) => series.flatMap(({ tags, columns, values }) => values.map((row) => ({ ...tags, ...Object.fromEntries(columns.map((column, i) => [column, row[i]])) }))));
  }

  /** All points of VictoriaMetrics whose labels match: one series each, by time (ms). */
  async exported(match: string): Promise<{ metric: Record<string, string>; values: number[]; timestamps: number[] }[]> {
    await fetch(new URL('/internal/force_flush', this.url));
    const response = await fetch(new URL(`/api/v1/export?${new URLSearchParams({ 'match[]': match }).toString()}`, this.url));
    const text = await response.text();
    if (!response.ok) throw new Error(`${match}: ${text}`);
    return text.split('\n').filter(Boolean).map((line) => JSON.parse(line) as { metric: Record<string, string>; values: number[]; timestamps: number[] });
  }

  /** Samples of a bench as the database has them, the lanes woven together by time: stamps in ms, and pressures. */
  async samplesOf(database: string, bench: string): Promise<{ stamp: number; pressure: number }[]> {
    if (this.engine === 'influxdb') {
      const rows = await this.rows(database, `SELECT pressure_bar FROM samples WHERE bench = '${bench}'`);
      return rows.map(({ time, pressure_bar: pressure }) => ({ stamp: Number(time) / 1000, pressure: Number(pressure) }));
    }
    const series = await this.exported(`samples_pressure_bar{db="${database}",bench="${bench}"}`);
    return series.flatMap(({ values, timestamps }) => values.map((pressure, i) => ({ stamp: timestamps[i] ?? NaN, pressure }))).sort((a, b) => a.stamp - b.stamp);
  }
}
