import { inputError } from '../core/problems.js';
import { chooseRuns } from '../records/choose-runs.js';
import type { StoreReader } from '../records/store-reader.js';
import { certificateContent, type AssemblyLine, type CertificateContent } from './certificate-content.js';
import type { Shop } from './shop.js';

/** Runs of one order that go into one document; more would take minutes and nobody would read it. */
const mostRuns = 400;

/** The last word on one assembly of an order. */
export interface OrderLine extends AssemblyLine {
  readonly run: number;
  /** Of the document for its run. */
  readonly number: string;
}

export interface OrderContent {
  readonly order: string;
  readonly shop: Shop;
  readonly runs: readonly CertificateContent[];
  /** Each assembly once, by its newest run. */
  readonly assemblies: readonly OrderLine[];
}

/** Everything of an order. @throws InputError when no run that is over names it, or too many do */
export function orderContent(store: StoreReader, order: string, shop: Shop): OrderContent {
  const numbers: number[] = [];
  for (const number of order.trim() === '' ? [] : chooseRuns(store, { order })) {
    numbers.push(number);
    if (numbers.length > mostRuns) throw inputError('order', '', `'${order}' has more than ${mostRuns} runs; write them out with the command export instead`);
  }
  if (numbers.length === 0) throw inputError('order', '', `'${order.slice(0, 80)}' is the order of no run that is over`);
  const runs = numbers.map((number) => certificateContent(store, number, shop));
  const newest = new Map<string, OrderLine>();
  for (const { assemblies, run, number } of runs) {
    for (const line of assemblies) {
      const key = line.serial.toLowerCase();
      // An assembly that was never named is a line of its own in each run.
      newest.set(line.attempt === null ? `${key} ${run}` : key, { ...line, run, number });
    }
  }
  return { order: order.trim(), shop, runs, assemblies: [...newest.values()].sort((a, b) => a.serial.localeCompare(b.serial, 'en', { numeric: true })) };
}
