import type { LabelledRun } from './labelled-runs.js';
import { costOf, type Costs } from './tally.js';

/** A threshold and what each of its values costs, run by run. */
export interface Choice {
  /** Place of the value; -1 for the one in force. */
  readonly place: number;
  /** No run comes out otherwise with any value. */
  readonly flat: boolean;
  /** Why, as a sentence without its end. */
  readonly reason: string;
  /** Runs that come out better with the value chosen. */
  readonly better: number;
  /** All runs, at the costs given: as it is, and with the value chosen. */
  readonly cost: { readonly present: number; readonly chosen: number };
  /** Runs that the choice had not seen. */
  readonly heldOut: { readonly present: number; readonly chosen: number };
}

/** Runs held out together, at most this often. */
const mostFolds = 5;

/** Fewest runs that must come out better: one alone is an accident. */
const fewestBetter = 2;

/**
 * Chooses a value by cost, and keeps the one in force unless another does better also on runs that it was not chosen by.
 * Runs of one hose and plan are held out together, so that a value that suits one hose alone is not taken.
 * The standard value has stood on other benches already: of equals it is taken, and it needs less to be believed.
 * @param candidates places of the marks of each value in `runs`; place 0 is the one in force
 * @param standard which of the candidates is the standard value; -1 where none is
 */
export function chooseValue(runs: readonly LabelledRun[], candidates: readonly number[], costs: Costs, standard = -1): Choice {
  const table = runs.map(({ labels, marks }) => [0, ...candidates].map((at) => costOf({ labels, marked: marks[at] as (typeof marks)[number] }, costs)));
  const all = table.map((_, i) => i);
  const sum = (some: readonly number[], column: number) => some.reduce((total, i) => total + (table[i]?.[column] ?? 0), 0);
  const place = best(all, sum, candidates.length, standard);
  const cost = { present: sum(all, 0), chosen: sum(all, place + 1) };
  const folds = foldsOf(runs);
  const heldOut = { present: cost.present, chosen: 0 };
  for (const fold of folds) {
    const others = all.filter((i) => !fold.includes(i));
    heldOut.chosen += sum(fold, best(others, sum, candidates.length, standard) + 1);
  }
  const flat = table.every((row) => row.every((value) => value === row[0]));
  const kept = (reason: string): Choice => ({ place: -1, flat, reason, better: 0, cost: { present: cost.present, chosen: cost.present }, heldOut });
  if (flat) return kept('no labelled run comes out otherwise with any value tried, so the data cannot decide');
  if (place === -1) return kept('no value tried does better');
  const better = all.filter((i) => (table[i]?.[place + 1] ?? 0) < (table[i]?.[0] ?? 0)).length;
  if (place === standard && heldOut.chosen <= heldOut.present) return { place, flat, reason: `${comeOutBetter(better)}, and it is the standard value`, better, cost, heldOut };
  if (better < fewestBetter) return kept('another value does better for one run only, which may be an accident');
  if (heldOut.chosen >= heldOut.present) return kept('another value does better for the runs that it is chosen by, but not for hoses and plans that it has not seen');
  return { place, flat, reason: comeOutBetter(better), better, cost, heldOut };
}

/** As words. */
export const comeOutBetter = (runs: number): string => `${runs} labelled ${runs === 1 ? 'run comes' : 'runs come'} out better`;

/** Place of the cheapest value, -1 where the one in force is as cheap. Of equals the standard one, else the middle of several neighbours: it is farthest from where mistakes begin. */
function best(some: readonly number[], sum: (some: readonly number[], column: number) => number, values: number, standard: number): number {
  const costs = Array.from({ length: values }, (_, place) => sum(some, place + 1));
  const least = Math.min(...costs);
  if (sum(some, 0) <= least + 1e-9) return -1;
  if (standard >= 0 && (costs[standard] ?? Infinity) <= least + 1e-9) return standard;
  const first = costs.findIndex((cost) => cost <= least + 1e-9);
  let last = first;
  while (last + 1 < values && (costs[last + 1] ?? Infinity) <= least + 1e-9) last++;
  return Math.floor((first + last) / 2);
}

/** Runs that are held out together; runs one by one where all are of one kind. */
function foldsOf(runs: readonly LabelledRun[]): number[][] {
  const groups = [...new Set(runs.map(({ group }) => group))].sort();
  const kinds = groups.length > 1;
  const count = Math.min(mostFolds, kinds ? groups.length : runs.length);
  const folds = Array.from({ length: count }, (): number[] => []);
  runs.forEach(({ group }, i) => folds[(kinds ? groups.indexOf(group) : i) % count]?.push(i));
  return folds;
}
