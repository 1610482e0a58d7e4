import { quantile } from '../core/fit/statistics.js';

/** How values are spread. */
export interface Distribution {
  readonly count: number;
  readonly mean: number;
  /** Sample standard deviation; `null` with a single value. */
  readonly deviation: number | null;
  readonly lowest: number;
  readonly quarter: number;
  readonly median: number;
  readonly threeQuarters: number;
  readonly highest: number;
  /** Neighbouring columns of equal width; a value on an edge counts to the column above it, the highest edge to the last. */
  readonly columns: readonly { readonly from: number; readonly to: number; readonly count: number }[];
}

const mostColumns = 40;

/**
 * Spread and histogram of values. The columns are as wide as the rule of Freedman and Diaconis (1981) asks,
 * 2 * interquartile range / cube root of the count, rounded to 1, 2 or 5 times a power of ten.
 * @returns `null` without values
 */
export function distributionOf(values: readonly number[]): Distribution | null {
  if (values.length === 0) return null;
  const sorted = Float64Array.from(values).sort();
  const [lowest, highest] = [sorted[0] ?? 0, sorted.at(-1) ?? 0];
  const at = (share: number): number => quantile(sorted, share);
  const count = sorted.length;
  const mean = sorted.reduce((sum, value) => sum + value, 0) / count;
  const squares = sorted.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return {
    count, mean, lowest, highest,
    deviation: count < 2 ? null : Math.sqrt(squares / (count - 1)),
    quarter: at(0.25), median: at(0.5), threeQuarters: at(0.75),
    columns: columnsOf(sorted, widthOf(at(0.75) - at(0.25), lowest, highest, count)),
  };
}

/** 1, 2 or 5 times a power of ten, not below `rough`. */
function roundUp(rough: number): number {
  const power = 10 ** Math.floor(Math.log10(rough));
  return ([1, 2, 5].find((step) => step * power >= rough * (1 - 1e-9)) ?? 10) * power;
}

function widthOf(spread: number, lowest: number, highest: number, count: number): number {
  const all = highest - lowest;
  const largest = Math.max(Math.abs(lowest), Math.abs(highest));
  // Values that differ by less than any instrument tells are one value.
  if (!(all > 1e-9 * Math.max(largest, 1e-3))) return roundUp(Math.max(largest / 20, 1e-6));
  const wanted = (2 * spread) / Math.cbrt(count);
  return roundUp(Math.min(Math.max(wanted, all / mostColumns), all));
}

function columnsOf(sorted: Float64Array, width: number): Distribution['columns'] {
  const first = Math.floor((sorted[0] ?? 0) / width + 1e-9);
  const last = Math.max(Math.ceil((sorted.at(-1) ?? 0) / width - 1e-9), first + 1);
  const counts = new Array<number>(last - first).fill(0);
  for (const value of sorted) {
    const column = Math.min(Math.max(Math.floor(value / width + 1e-9) - first, 0), counts.length - 1);
    counts[column] = (counts[column] ?? 0) + 1;
  }
  const edge = (i: number): number => Number(((first + i) * width).toPrecision(12));
  return counts.map((count, i) => ({ from: edge(i), to: edge(i + 1), count }));
}
