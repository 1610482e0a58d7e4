/** Linear least squares by Householder reflections; never by normal equations, which lose half of the digits. */
import { columnBlock } from './orthogonal.js';

/** What a linear least squares fit found. */
export interface LinearFit {
  /** Estimates, one a column. */
  readonly estimates: Float64Array;
  /** Covariance of the estimates for residual variance 1, row by row; times `variance` for the covariance. */
  readonly unitCovariance: Float64Array;
  /** Square roots of the diagonal of the covariance. */
  readonly standardErrors: Float64Array;
  /** y - fitted, not weighted. */
  readonly residuals: Float64Array;
  /** Weighted sum of squared residuals. */
  readonly rss: number;
  /** Number of observations with a weight above 0, less the number of columns. */
  readonly dof: number;
  /** rss / dof; NaN without degrees of freedom. */
  readonly variance: number;
}

/**
 * Fits y = sum of estimate x column, minimising sum of weight x residual^2.
 * Columns are scaled to unit length first. Source: Golub, Numerische Mathematik 7 (1965) 206; Bjorck, Numerical
 * Methods for Least Squares Problems (1996), 2.4.
 * @param weights 1/variance of each observation up to a common factor; all 1 when left out; 0 leaves one out
 * @returns `null` where the columns do not determine the estimates (dependent columns, too few observations)
 */
export function fitLinear(columns: readonly ArrayLike<number>[], y: ArrayLike<number>, weights?: ArrayLike<number>): LinearFit | null {
  const n = y.length;
  const k = columns.length;
  let used = 0;
  const root = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const weight = weights === undefined ? 1 : (weights[i] as number);
    if (weight > 0) {
      root[i] = Math.sqrt(weight);
      used++;
    }
  }
  if (k === 0 || used < k) return null;

  const [rhs = new Float64Array(n), ...q] = columnBlock(n, k + 1);
  weighed(y, root, rhs);
  const scale = q.map((column, j) => lengthOf(weighed(columns[j] as ArrayLike<number>, root, column)));
  if (scale.some((s) => !(s > 0 && Number.isFinite(s)))) return null;
  q.forEach((column, j) => {
    const length = scale[j] as number;
    for (let i = 0; i < n; i++) column[i] = (column[i] as number) / length;
  });

  const r = triangle(q, rhs);
  if (r === null) return null;
  const inverse = invertTriangle(r, k);

  const estimates = new Float64Array(k);
  const unitCovariance = new Float64Array(k * k);
  for (let i = 0; i < k; i++) {
    let sum = 0;
    for (let j = i; j < k; j++) sum += (inverse[i * k + j] as number) * (rhs[j] as number);
    estimates[i] = sum / (scale[i] as number);
    for (let j = 0; j < k; j++) {
      let dot = 0;
      for (let m = Math.max(i, j); m < k; m++) dot += (inverse[i * k + m] as number) * (inverse[j * k + m] as number);
      unitCovariance[i * k + j] = dot / ((scale[i] as number) * (scale[j] as number));
    }
  }

  const residuals = new Float64Array(n);
  for (let i = 0; i < n; i++) residuals[i] = y[i] as number;
  for (let j = 0; j < k; j++) {
    const column = columns[j] as ArrayLike<number>;
    const estimate = estimates[j] as number;
    for (let i = 0; i < n; i++) residuals[i] = (residuals[i] as number) - estimate * (column[i] as number);
  }
  let rss = 0;
  for (let i = 0; i < n; i++) rss += ((root[i] as number) * (residuals[i] as number)) ** 2;
  const dof = used - k;
  const variance = dof > 0 ? rss / dof : Number.NaN;
  const standardErrors = Float64Array.from({ length: k }, (_, i) => Math.sqrt(variance * (unitCovariance[i * k + i] as number)));
  return { estimates, unitCovariance, standardErrors, residuals, rss, dof, variance };
}

function weighed(column: ArrayLike<number>, root: Float64Array, out: Float64Array): Float64Array {
  for (let i = 0; i < root.length; i++) out[i] = (root[i] as number) * (column[i] as number);
  return out;
}

/** Euclidean length, safe against overflow. */
function lengthOf(column: Float64Array): number {
  let largest = 0;
  for (let i = 0; i < column.length; i++) {
    const size = Math.abs(column[i] as number);
    if (!(size <= largest)) largest = size;
  }
  if (!(largest > 0)) return largest;
  let sum = 0;
  for (let i = 0; i < column.length; i++) {
    const share = (column[i] as number) / largest;
    sum += share * share;
  }
  return largest * Math.sqrt(sum);
}

/**
 * Householder reflections in place: `columns` and `rhs` become Q'A and Q'y; returns R row by row, or `null` when a
 * column lies within rounding of the ones before it.
 */
function triangle(columns: readonly Float64Array[], rhs: Float64Array): Float64Array | null {
  const k = columns.length;
  const n = rhs.length;
  const r = new Float64Array(k * k);
  for (let j = 0; j < k; j++) {
    const v = columns[j] as Float64Array;
    let square = 0;
    for (let i = j; i < n; i++) square += (v[i] as number) ** 2;
    const length = Math.sqrt(square);
    if (!(length > 1e-13)) return null;
    const head = v[j] as number;
    const diagonal = head > 0 ? -length : length;
    v[j] = head - diagonal;
    const factor = 1 / (diagonal * (v[j] as number));
    for (let m = j + 1; m <= k; m++) {
      const target = m === k ? rhs : (columns[m] as Float64Array);
      let dot = 0;
      for (let i = j; i < n; i++) dot += (v[i] as number) * (target[i] as number);
      const step = dot * factor;
      for (let i = j; i < n; i++) target[i] = (target[i] as number) + step * (v[i] as number);
      if (m < k) r[j * k + m] = target[j] as number;
    }
    r[j * k + j] = diagonal;
  }
  return r;
}

/** Inverse of an upper triangular matrix, row by row. */
function invertTriangle(r: Float64Array, k: number): Float64Array {
  const inverse = new Float64Array(k * k);
  for (let j = k - 1; j >= 0; j--) {
    inverse[j * k + j] = 1 / (r[j * k + j] as number);
    for (let i = j - 1; i >= 0; i--) {
      let sum = 0;
      for (let m = i + 1; m <= j; m++) sum += (r[i * k + m] as number) * (inverse[m * k + j] as number);
      inverse[i * k + j] = -sum / (r[i * k + i] as number);
    }
  }
  return inverse;
}
