import type { Logger } from 'pino';
import type { BenchListener } from '../../daemon/bench-listener.js';
import { readSecret } from '../alerts/secret-file.js';
import { BenchPulse } from './bench-pulse.js';
import { Connection } from './connection.js';
import type { ForwarderState } from './forwarded.js';
import { Forwarder } from './forwarder.js';
import { HealthLog } from './health-log.js';
import { RefusedLines } from './refused-lines.js';
import type { InfluxSettings } from './settings.js';
import { Spool } from './spool.js';

export interface ForwardedBench {
  readonly bench: string;
  /** Path of its store. */
  readonly store: string;
  readonly settings: InfluxSettings;
  readonly log: Logger;
  listen(listener: BenchListener): () => void;
  /** Says something on the page, or takes it away again. */
  notice(subject: string, text: string | null): void;
}

/** ms between two looks at how the forwarder stands. */
const lookEvery = 5000;
/** ms between two points of health. */
const pulseEvery = 60_000;

/** @throws InputError where the password cannot be read @param source name of the bench file */
export function loginOf({ username, passwordFile }: InfluxSettings, source: string): { username: string; password: string } | null {
  if (username === undefined) return null;
  return { username, password: passwordFile === undefined ? '' : readSecret(passwordFile, source, 'influx.passwordFile') };
}

/** One bench whose store is copied into a database. */
export class BenchForwarding {
  private readonly forwarder: Forwarder;
  private readonly timers: readonly NodeJS.Timeout[];
  private readonly release: () => void;

  /** The store must be there already. @param source name of the bench file, for sentences */
  constructor(bench: ForwardedBench, source: string) {
    const { settings, log } = bench;
    const connection = new Connection({ ...settings, login: () => loginOf(settings, source) });
    const health = new HealthLog(bench.bench);
    const pulse = new BenchPulse();
    this.forwarder = new Forwarder({
      target: connection.target, spool: new Spool(bench.store, connection.target), database: connection, refused: new RefusedLines(`${bench.store}.refused`),
      health, backlog: settings.backlog, thinnedTo: settings.thinnedTo, pointsPerSecond: settings.pointsPerSecond, log,
    });
    this.release = bench.listen(pulse);
    const look = () => {
      this.forwarder.state();
      const { behind, leftOut } = this.forwarder.notices();
      bench.notice('database', behind);
      bench.notice('database-left-out', leftOut);
    };
    const beat = () => {
      const { waiting, oldest, rejected } = this.forwarder.state();
      health.add({ wall: Date.now(), fields: { ...pulse.take(), waiting: BigInt(waiting), behind_s: oldest ?? 0, refused: BigInt(rejected), memory_bytes: BigInt(process.memoryUsage.rss()) } });
    };
    this.timers = [setInterval(look, lookEvery), setInterval(beat, pulseEvery)];
    this.forwarder.start();
  }

  state(): ForwarderState {
    return this.forwarder.state();
  }

  async stop(): Promise<void> {
    this.timers.forEach((timer) => clearInterval(timer));
    this.release();
    await this.forwarder.stop();
  }
}
