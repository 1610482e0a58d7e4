import { onTestFinished } from 'vitest';
import type { Shop } from '../../src/certificate/shop.js';
import { parseJob } from '../../src/records/job.js';
import { openStore, type Store } from '../../src/records/store.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';
import { join } from 'node:path';

/** A shop of our own invention. */
export const shop: Shop = { name: 'Meadow Lane Hydraulics', address: ['Meadow Lane 4', 'Exampleford'], logo: null, paper: 'A4', zone: 'Europe/Berlin' };

export const job = parseJob({
  order: '4711', customer: 'Example Farm, ref. 88', hose: 'two-wire DN12', hoseLot: 'L-33', fitting: 'DKO 15L ≤ 315 bar, both ends', medium: 'water',
  operator: 'J. Doe', responsible: 'M. Roe', assemblies: 'A17-001..003',
});

export const calibration = { serial: 'T-7', certificate: 'C-118', date: '2026-09-01', due: '2027-09-01', uncertainty: '0.8 bar' };

/** A bench that was calibrated, whose plan is guarded and limits drop and leak too. */
export const testedBench = (channel: Record<string, unknown> = { calibration, accuracyClass: 0.25 }): HandBench => {
  const bench = new HandBench(judgingBy({ maximumDrop: '3 %', leakLimit: '30 bar/min', decisionRule: 'guarded' }), channel);
  onTestFinished(() => bench.clear());
  return bench;
};

/** Opens the bench's store for writing, once its daemon has stopped. */
export function storeOf(bench: HandBench): Store {
  bench.daemon.stop();
  const { store } = openStore(join(bench.folder, 'records.sqlite'), { software: 'dwellkeeper test', now: () => bench.at.wall });
  onTestFinished(() => {
    store.close();
  });
  return store;
}
