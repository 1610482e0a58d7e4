import { mkdtempSync, renameSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { stringify } from 'yaml';
import { AsciiInstrument } from '../../simulators/instruments/ascii-instrument.js';
import { createPtyPair, type PtyPair } from '../../simulators/instruments/pty-pair.js';
import { openSerialWire } from '../../simulators/instruments/serial-line.js';
import type { Wire } from '../../simulators/instruments/wire.js';
import { play, type Reading } from '../../simulators/play.js';
import { readingsOf } from '../../simulators/player.js';
import type { ScenarioRun } from '../../simulators/run-scenario.js';
import { openStore, type Store } from '../../src/records/store.js';
import type { RunSummary } from '../../src/server/bench-feed.js';
import { CommandLine, eventually } from './command-line.js';

/** A vented bench for ever, 50 readings a second, the last digit moving. */
function* vented(): Generator<Reading> {
  for (let i = 0; ; i++) yield { time: i / 50, pressure: 0.1 + ((i * 7) % 5) / 100, flags: 0 };
}

/** A port that was free a moment ago. */
export async function freePort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  await new Promise((resolve) => server.close(resolve));
  return port;
}

/**
 * A bench folder with its files, a serial device pair and an instrument at its far end; the daemon runs in a process of
 * its own. The port in the bench file is a link, so that a new device can take the place of an unplugged one.
 */
export class SerialBench {
  readonly folder = mkdtempSync(join(tmpdir(), 'bench-'));
  readonly file = join(this.folder, 'bench.yaml');
  /** Readings sent since the program was started. */
  sent = 0;
  program: CommandLine | null = null;
  page = '';
  private pair: PtyPair | null = null;
  private wire: Wire | null = null;
  private instrument: AsciiInstrument | null = null;

  private resting = new AbortController();
  private rested: Promise<void> = Promise.resolve();

  private constructor(readonly name: string) {}

  static async make(name: string, first: ScenarioRun): Promise<SerialBench> {
    const bench = new SerialBench(name);
    await bench.plugIn();
    bench.vent();
    bench.write('plan.yaml', first.planText);
    bench.write('thresholds.yaml', first.thresholdsText ?? '{}');
    bench.write(
      'bench.yaml',
      stringify({
        bench: name,
        store: 'records.sqlite',
        page: { port: await freePort() },
        plan: 'plan.yaml',
        thresholds: 'thresholds.yaml',
        channels: [{ input: { driver: 'serial-line', path: join(bench.folder, 'port') }, unit: 'bar', range: { lower: '0 bar', upper: '1000 bar' }, resolution: '0.01 bar' }],
      }),
    );
    return bench;
  }

  /** As an editor saves a file: whole, under its name. */
  write(name: string, text: string): void {
    writeFileSync(join(this.folder, `${name}.new`), text);
    renameSync(join(this.folder, `${name}.new`), join(this.folder, name));
  }

  async plugIn(): Promise<void> {
    this.pair = await createPtyPair();
    this.wire = await openSerialWire(this.pair.near);
    this.instrument = new AsciiInstrument(this.wire);
    symlinkSync(this.pair.far, join(this.folder, 'port.new'));
    renameSync(join(this.folder, 'port.new'), join(this.folder, 'port'));
  }

  /** The cable is pulled: the device is gone. */
  async unplug(): Promise<void> {
    this.instrument = null;
    rmSync(join(this.folder, 'port'), { force: true });
    await this.wire?.close();
    await this.pair?.close();
    this.wire = this.pair = null;
  }

  async start(): Promise<void> {
    this.program = new CommandLine(['start', this.file], this.folder);
    this.page = await this.program.page();
    this.sent = 0;
  }

  /** Plays a run in real time, then goes on with a vented bench until the next one; what is sent unplugged is lost. */
  async playRun(run: ScenarioRun): Promise<void> {
    await this.rest();
    await play(readingsOf(run.samples), (reading) => this.send(reading));
    this.vent();
  }

  /** A vented bench, until a run is played. */
  private vent(): void {
    this.rested = play(vented(), (reading) => this.send(reading), { signal: this.resting.signal });
  }

  private send(reading: Reading): void {
    this.sent++;
    this.instrument?.show(reading);
  }

  private async rest(): Promise<void> {
    this.resting.abort();
    await this.rested;
    this.resting = new AbortController();
  }

  async runs(): Promise<RunSummary[]> {
    const response = await fetch(`${this.page}/api/benches/${encodeURIComponent(this.name)}/runs`);
    if (!response.ok) throw new Error(`the runs were not given: ${response.status}`);
    return (await response.json()) as RunSummary[];
  }

  async phase(): Promise<string> {
    const response = await fetch(`${this.page}/api/benches`);
    const [bench] = (await response.json()) as { phase: string }[];
    return bench?.phase ?? '';
  }

  async untilPhase(phase: string): Promise<void> {
    await eventually(`phase ${phase}`, async () => (await this.phase()) === phase);
  }

  async untilRuns(count: number): Promise<RunSummary[]> {
    return eventually(`run ${count}`, async () => {
      const runs = await this.runs();
      return runs.length >= count && runs;
    });
  }

  stored<T>(look: (store: Store) => T): T {
    const { store } = openStore(join(this.folder, 'records.sqlite'), { software: 'test', readOnly: true });
    try {
      return look(store);
    } finally {
      store.close();
    }
  }

  async clear(): Promise<void> {
    await this.rest();
    await this.program?.end('SIGKILL');
    await this.unplug();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
