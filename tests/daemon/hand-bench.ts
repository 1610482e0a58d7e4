import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { Observable, Subject } from 'rxjs';
import { LinkError, type Connection, type Wiring } from '../../drivers/wiring.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { parsePlan } from '../../src/core/plan.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import { BenchDaemon } from '../../src/daemon/bench-daemon.js';
import type { JudgingSetup } from '../../src/daemon/bench-setup.js';
import type { TimeSources } from '../../src/daemon/trace-clock.js';
import type { Signer } from '../../src/records/seal.js';
import { openStore, type Store } from '../../src/records/store.js';

/** A short proof: 550 bar held for 3 s. */
export const judgingBy = (plan: Record<string, unknown> = {}): JudgingSetup => ({
  plan: {
    value: parsePlan({ plan: 'short proof', testPressure: '550 bar', holdTime: '3 s', minimumPressure: '530 bar', ceilingPressure: '600 bar', ...plan }, 'plan'),
    text: null,
  },
  thresholds: { value: parseThresholds({ quietTime: '1 s', settleWindow: '2 s', settleTimeout: '10 s', runEnd: '2 s' }, 'thresholds'), text: null },
});

/**
 * A bench whose cable and clocks are moved by hand: the daemon, the driver, the reader and the store are the real ones,
 * only the wire is a list of bytes and time is a number. 20 readings a second.
 */
export class HandBench {
  readonly folder: string;
  readonly at = { monotonic: 100, wall: Date.UTC(2027, 2, 1, 9), boot: 5000 };
  readonly time: TimeSources = { monotonic: () => this.at.monotonic, wall: () => this.at.wall, sinceBoot: () => this.at.boot };
  opened = 0;
  private cable: Subject<Uint8Array> | null = null;
  private signer: Signer | null = null;
  daemon: BenchDaemon;

  /** @param settings of the daemon; @param folder an empty one, deleted at the end */
  constructor(
    private readonly judging = judgingBy(),
    private readonly channel: Record<string, unknown> = {},
    private readonly software = 'dwellkeeper test',
    private readonly settings: { readonly waitingLimit?: number; readonly disk?: Record<string, string> } = {},
    folder = mkdtempSync(join(tmpdir(), 'bench-')),
  ) {
    this.folder = folder;
    this.daemon = this.make();
  }

  readonly wiring: Wiring = {
    open: () =>
      new Observable<Connection>((subscriber) => {
        this.opened++;
        const cable = new Subject<Uint8Array>();
        this.cable = cable;
        const watch = cable.subscribe({ error: (error: unknown) => subscriber.error(error) });
        subscriber.next({ received: cable, send: () => undefined });
        return () => watch.unsubscribe();
      }),
    readText: (path) => Promise.reject(new LinkError('missing', `${path} is not there`)),
  };

  /** A daemon on the same store, as after a new start of the program. */
  restart(): BenchDaemon {
    this.daemon = this.make();
    this.daemon.start();
    return this.daemon;
  }

  /** Seals are signed from here on; before the daemon starts. */
  signWith(signer: Signer): void {
    this.signer = signer;
    this.daemon = this.make();
  }

  /** The cable is pulled. */
  pull(): void {
    this.cable?.error(new LinkError('lost', 'the port is gone'));
  }

  wait(seconds: number): void {
    this.at.monotonic += seconds;
    this.at.wall += seconds * 1000;
    this.at.boot += seconds;
  }

  line(text: string): void {
    this.cable?.next(Buffer.from(`${text}\r\n`, 'latin1'));
  }

  /** From one pressure to another (bar), evenly, one reading each 50 ms. */
  ramp(from: number, to: number, seconds: number): void {
    const count = Math.round(seconds * 20);
    for (let i = 1; i <= count; i++) {
      this.wait(0.05);
      const wobble = ((i * 37) % 11) / 100 - 0.05;
      this.line((from + ((to - from) * i) / count + wobble).toFixed(2));
    }
  }

  /** A whole good run; `hold` s under pressure. */
  goodRun(hold = 10): void {
    this.ramp(0, 0, 2);
    this.ramp(0, 560, 10);
    this.ramp(560, 552, 2);
    this.ramp(552, 552, hold);
    this.ramp(552, 0, 1);
    this.ramp(0, 0, 8);
  }

  /** The store, read beside the daemon or after it. */
  stored<T>(look: (store: Store) => T): T {
    const { store } = openStore(join(this.folder, 'records.sqlite'), { software: 'test', readOnly: true });
    try {
      return look(store);
    } finally {
      store.close();
    }
  }

  clear(): void {
    this.daemon.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }

  private limit(): { waitingLimit?: number } {
    const { waitingLimit } = this.settings;
    return waitingLimit === undefined ? {} : { waitingLimit };
  }

  private make(): BenchDaemon {
    const bench = parseBench(
      {
        bench: 'north bench',
        store: join(this.folder, 'records.sqlite'),
        disk: { warnBelow: '1 MB', ...this.settings.disk },
        channels: [
          { input: { driver: 'serial-line', path: '/dev/ttyS9', firstLine: 'keep' }, unit: 'bar', range: { lower: '0 bar', upper: '1000 bar' }, resolution: '0.01 bar', ...this.channel },
        ],
      },
      join(this.folder, 'bench.yaml'),
    );
    return new BenchDaemon({ bench, judging: this.judging, wiring: this.wiring, log: pino({ level: 'silent' }), software: this.software, time: this.time, ...this.limit(), ...(this.signer && { signer: this.signer }) });
  }
}
