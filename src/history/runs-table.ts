import { tableCsv } from '../records/export-csv.js';
import type { StoreReader } from '../records/store-reader.js';
import type { FoundRun } from '../server/history-answers.js';
import { everyRun } from './find-runs.js';
import type { RunsChoice } from './history-question.js';

const header = [
  'run', 'from', 'length_s', 'state', 'result', 'sealed_verdict', 'plan', 'order', 'customer', 'hose', 'assemblies', 'operator', 'retest_of',
  'peak_bar', 'drop_bar', 'leak_bar_per_min', 'reason',
];

/** Lines of one table; who needs more takes them by date. */
export const mostLines = 20_000;

/** The found runs for a spreadsheet, one a line; texts that a spreadsheet would run as a formula are made harmless. */
export function runsTable(store: StoreReader, bench: string, choice: RunsChoice): string {
  return tableCsv(header, rowsOf(everyRun(store, bench, choice)));
}

function* rowsOf(runs: Iterable<FoundRun>): Generator<(string | number | null)[]> {
  let lines = 0;
  for (const found of runs) {
    if (++lines > mostLines) return;
    yield [
      found.run, new Date(found.wall).toISOString(), found.length_s === null ? null : Number(found.length_s.toFixed(3)), found.state, found.result, found.sealed ?? found.result, found.plan,
      found.order, found.customer, found.hose, found.assemblies.join(' '), found.operator, found.retestOf, found.peak_bar, found.drop_bar, found.leak_bar_per_min, found.reason,
    ];
  }
}
