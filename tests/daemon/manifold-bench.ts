import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { Observable, Subject } from 'rxjs';
import { LinkError, type Connection, type Wiring } from '../../drivers/wiring.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { BenchDaemon } from '../../src/daemon/bench-daemon.js';
import type { TimeSources } from '../../src/daemon/trace-clock.js';
import { openStore, type Store } from '../../src/records/store.js';
import { judgingBy } from './hand-bench.js';

/** What the three cables carry at one moment: pressures in bar, the lid as the switch says it. */
export interface Manifold {
  /** `null`: nothing comes. */
  low: number | string | null;
  high: number | string | null;
  lid?: 'open' | 'shut';
}

/**
 * A bench with two transducers on one manifold (250 and 1000 bar) and a supply line with the lid contact, each on a cable
 * of its own; time and cables are moved by hand. 20 readings a second.
 */
export class ManifoldBench {
  readonly folder = mkdtempSync(join(tmpdir(), 'manifold-'));
  private readonly at = { monotonic: 100, wall: Date.UTC(2027, 2, 1, 9), boot: 5000 };
  private readonly cables = new Map<string, Subject<Uint8Array>>();
  readonly opened = new Map<string, number>();
  readonly daemon: BenchDaemon;

  constructor(plan: Record<string, unknown>, private readonly more: { readonly low?: Record<string, unknown>; readonly high?: Record<string, unknown> } = {}) {
    const time: TimeSources = { monotonic: () => this.at.monotonic, wall: () => this.at.wall, sinceBoot: () => this.at.boot };
    const line = (path: string, extra = {}) => ({ driver: 'serial-line', path, firstLine: 'keep', ...extra });
    const bench = parseBench(
      {
        bench: 'north bench',
        channels: [
          { channel: 'high', input: line('/dev/high'), unit: 'bar', range: { upper: '1000 bar' }, resolution: '0.01 bar', accuracyClass: 0.25, ...this.more.high },
          { channel: 'low', input: line('/dev/low'), unit: 'bar', range: { upper: '250 bar' }, resolution: '0.01 bar', accuracyClass: 0.25, ...this.more.low },
          {
            channel: 'supply', place: 'elsewhere', unit: 'bar', range: { upper: '16 bar' },
            input: line('/dev/supply', { pattern: '(?<value>\\S+) (?<lid>open|shut)', contacts: { lid: { open: 'open', closed: 'shut' } } }),
          },
        ],
      },
      join(this.folder, 'bench.yaml'),
    );
    const judging = judgingBy(plan);
    this.daemon = new BenchDaemon({ bench, judging, wiring: this.wiring, log: pino({ level: 'silent' }), software: 'dwellkeeper test', time });
    this.daemon.start();
  }

  private readonly wiring: Wiring = {
    open: (target) =>
      new Observable<Connection>((subscriber) => {
        const path = target.kind === 'serial' && target.port.by === 'path' ? target.port.path : '';
        this.opened.set(path, (this.opened.get(path) ?? 0) + 1);
        const cable = new Subject<Uint8Array>();
        this.cables.set(path, cable);
        const watch = cable.subscribe({ error: (error: unknown) => subscriber.error(error) });
        subscriber.next({ received: cable, send: () => undefined });
        return () => watch.unsubscribe();
      }),
    readText: (path) => Promise.reject(new LinkError('missing', `${path} is not there`)),
  };

  pull(path: string): void {
    this.cables.get(path)?.error(new LinkError('lost', 'the port is gone'));
  }

  private line(path: string, text: string): void {
    this.cables.get(path)?.next(Buffer.from(`${text}\r\n`, 'latin1'));
  }

  wait(seconds: number): void {
    this.at.monotonic += seconds;
    this.at.wall += seconds * 1000;
    this.at.boot += seconds;
  }

  /** What the bench shows over `seconds`; `share` runs from 0 to 1. */
  show(seconds: number, at: (share: number) => Manifold): void {
    const count = Math.round(seconds * 20);
    for (let i = 1; i <= count; i++) {
      this.wait(0.05);
      const { low, high, lid } = at(i / count);
      const wobble = ((i * 37) % 11) / 100 - 0.05;
      const said = (value: number | string, noise: number) => (typeof value === 'string' ? value : (value + noise).toFixed(2));
      if (lid !== undefined) this.line('/dev/supply', `6.0 ${lid}`);
      if (low !== null) this.line('/dev/low', said(low, wobble));
      if (high !== null) this.line('/dev/high', said(high, -wobble));
    }
  }

  /** A whole run to `top` bar; `low` and `high` say what each transducer makes of the true pressure. */
  run(top: number, low: (true_bar: number, share: number) => Manifold['low'], high: (true_bar: number) => Manifold['high'] = (p) => p, lid?: Manifold['lid']): void {
    const piece = (seconds: number, from: number, to: number) =>
      this.show(seconds, (share) => {
        const bar = from + (to - from) * share;
        return { low: low(bar, share), high: high(bar), ...(lid && { lid }) };
      });
    piece(2, 0, 0);
    piece(10, 0, top + 8);
    piece(2, top + 8, top);
    piece(10, top, top);
    piece(1, top, 0);
    piece(8, 0, 0);
  }

  notices(): string[] {
    return this.daemon.feed.health().notices.map(({ weight, text }) => `${weight}: ${text}`);
  }

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
}
