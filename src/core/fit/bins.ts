import { robustSigma } from './statistics.js';

/** Means of neighbouring samples, in ascending time, at most about 600 of them. Equal lengths. */
export interface Bins {
  /** Mean time of the samples in the bin, s. */
  readonly time: ArrayLike<number>;
  /** Their mean pressure, bar. */
  readonly pressure: ArrayLike<number>;
  /** Their number; a bin with 0 is left out. All 1 when absent. */
  readonly weight?: ArrayLike<number>;
}

/** Bins that can be used: finite, times strictly ascending, weights above 0. */
export interface Columns {
  readonly time: Float64Array;
  readonly pressure: Float64Array;
  readonly weight: Float64Array;
}

/** Takes over the bins that can be used; a time that does not move on is left out with its bin. */
export function usableColumns(bins: Bins): Columns {
  const most = bins.time.length;
  const [time, pressure, weight] = [new Float64Array(most), new Float64Array(most), new Float64Array(most)];
  let n = 0;
  let last = -Infinity;
  for (let i = 0; i < most; i++) {
    const t = bins.time[i] as number;
    const p = bins.pressure[i] as number;
    const w = bins.weight === undefined ? 1 : (bins.weight[i] as number);
    if (!(t > last && Number.isFinite(t) && Number.isFinite(p) && w > 0 && Number.isFinite(w))) continue;
    [time[n], pressure[n], weight[n]] = [t, p, w];
    last = t;
    n++;
  }
  return { time: time.subarray(0, n), pressure: pressure.subarray(0, n), weight: weight.subarray(0, n) };
}

/** The columns with only the bins at the given places. */
export function pickColumns({ time, pressure, weight }: Columns, keep: readonly number[]): Columns {
  const pick = (values: Float64Array): Float64Array => Float64Array.from(keep, (i) => values[i] as number);
  return { time: pick(time), pressure: pick(pressure), weight: pick(weight) };
}

/** The columns from a time (s) on. */
export function columnsFrom(columns: Columns, from: number): Columns {
  const first = columns.time.findIndex((t) => t >= from);
  if (first === 0) return columns;
  return pickColumns(columns, first < 0 ? [] : Array.from({ length: columns.time.length - first }, (_, i) => first + i));
}

/** So many wild bins in a row are no accident but the course of the pressure, or this share of all, where the pressure came back after them. */
const longestWildRun = 2;
const longestExcursion = 0.04;

/**
 * Places of the bins that are not wild, or `null` when none is wild. Wild: more than 5 sigma from the fitted curve,
 * sigma from the MAD of the residuals, so that normal noise loses nothing (once in 2 million bins); and no more than
 * two in a row, so that a leak that sets in late is not thrown out as an accident. A dip that the pressure came back from,
 * for five times as long, is none.
 */
export function tamePlaces(residuals: Float64Array, weight: Float64Array): number[] | null {
  const scaled = residuals.map((r, i) => r * Math.sqrt(weight[i] as number));
  const most = 5 * robustSigma(scaled, 0);
  if (!(most > 0)) return null;
  const n = scaled.length;
  const wild = (i: number): boolean => Math.abs(scaled[i] as number) > most;
  const keep: number[] = [];
  for (let i = 0; i < n; i++) {
    if (!wild(i)) {
      keep.push(i);
      continue;
    }
    let end = i;
    while (end < n && wild(end)) end++;
    const length = end - i;
    if (length > longestWildRun && !cameBack(wild, i, end, n)) for (let k = i; k < end; k++) keep.push(k);
    i = end - 1;
  }
  return keep.length < n ? keep : null;
}

/** Is the run of wild bins [from, to) short, with tame ones for five times as long on both sides? */
function cameBack(wild: (i: number) => boolean, from: number, to: number, n: number): boolean {
  const length = to - from;
  if (length > longestExcursion * n || from < 5 * length || to + 5 * length > n) return false;
  for (let k = 1; k <= 5 * length; k++) if (wild(from - k) || wild(to - 1 + k)) return false;
  return true;
}
