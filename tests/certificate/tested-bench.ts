import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { onTestFinished } from 'vitest';
import type { Shop } from '../../src/certificate/shop.js';
import { parseJob } from '../../src/records/job.js';
import { openStore, type Store } from '../../src/records/store.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';

/** A shop of our own invention. */
export const shop: Shop = { name: 'Meadow Lane Hydraulics', address: ['Meadow Lane 4', 'Exampleford'], logo: null, paper: 'A4', zone: 'Europe/Berlin' };

export const job = parseJob({
  order: '4711', customer: 'Example Farm, ref. 88', hose: 'two-wire DN12', hoseLot: 'L-33', fitting: 'DKO 15L ≤ 315 bar, both ends', medium: 'water',
  operator: 'J. Doe', responsible: 'M. Roe', assemblies: 'A17-001..003',
});

export const calibration = { serial: 'T-7', certificate: 'C-118', date: '2026-09-01', due: '2027-09-01', uncertainty: '0.8 bar' };

/** What a bench recorded in these runs, to be copied into as many stores as tests want: judging a run takes a second. */
export class Recorded {
  private readonly bench: HandBench;

  /** The plan is guarded and limits drop and leak too. */
  constructor(runs: (bench: HandBench) => void, channel: Record<string, unknown> = { calibration, accuracyClass: 0.25 }) {
    this.bench = new HandBench(judgingBy(guarded), channel);
    this.bench.daemon.start();
    runs(this.bench);
    this.bench.daemon.stop();
  }

  /** A store of its own for the test, open for writing. */
  store(): Store {
    const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-copy-'));
    copyFileSync(join(this.bench.folder, 'records.sqlite'), join(folder, 'records.sqlite'));
    const { store } = openStore(join(folder, 'records.sqlite'), { software: 'dwellkeeper test', now: () => this.bench.at.wall });
    onTestFinished(() => {
      store.close();
      rmSync(folder, { recursive: true, force: true });
    });
    return store;
  }

  clear(): void {
    this.bench.clear();
  }
}

export const guarded = { maximumDrop: '3 %', leakLimit: '30 bar/min', decisionRule: 'guarded' };

/** Loses 60 bar in the hold. */
export function leakingRun(bench: HandBench): void {
  bench.ramp(0, 0, 2);
  bench.ramp(0, 560, 10);
  bench.ramp(560, 552, 2);
  bench.ramp(552, 552, 4);
  bench.ramp(552, 490, 10);
  bench.ramp(490, 0, 1);
  bench.ramp(0, 0, 8);
}
