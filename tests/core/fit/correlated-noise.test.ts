import { describe, expect, it } from 'vitest';
import { binnedShape, type NoiseShape, shapeWithCorrelation, Whitener } from '../../../src/core/fit/correlated-noise.js';
import { leakRateBound } from '../../../src/core/fit/cramer-rao.js';
import { randomNumbers } from './simulated-hold.js';

/** Cholesky factor of a dense matrix, row by row, the plain way. */
function cholesky(matrix: readonly (readonly number[])[]): number[][] {
  const lower: number[][] = [];
  matrix.forEach((row, i) => {
    const out: number[] = [];
    for (let j = 0; j <= i; j++) {
      let sum = row[j] ?? NaN;
      for (let m = 0; m < j; m++) sum -= (out[m] ?? NaN) * ((j === i ? out : lower[j])?.[m] ?? NaN);
      out.push(i === j ? Math.sqrt(sum) : sum / (lower[j]?.[j] ?? NaN));
    }
    lower.push(out);
  });
  return lower;
}

function solveLower(lower: readonly (readonly number[])[], y: ArrayLike<number>): number[] {
  const z: number[] = [];
  lower.forEach((row, i) => {
    let sum = y[i] ?? NaN;
    for (let m = 0; m < i; m++) sum -= (row[m] ?? NaN) * (z[m] ?? NaN);
    z.push(sum / (row[i] ?? NaN));
  });
  return z;
}

const covariance = (time: ArrayLike<number>, { decay, strength }: NoiseShape): number[][] =>
  Array.from(time, (a, i) => Array.from(time, (b, j) => (i === j ? 1 : strength * decay ** Math.abs(a - b))));

describe('Whitener agrees with a dense Cholesky factor', () => {
  const { uniform, normal } = randomNumbers(41);
  const even = Float64Array.from({ length: 30 }, (_, i) => i);
  const uneven = even.map((t) => t + 0.4 * uniform());
  const binned = binnedShape(0.2, 10);
  it.each([
    ['AR(1), even', even, { decay: 0.7, strength: 1 }],
    ['AR(1), uneven', uneven, { decay: 0.9, strength: 1 }],
    ['AR(1) and white noise, uneven', uneven, { decay: 0.8, strength: 0.5 }],
    ['averaged AR(1), even', even, binned],
  ] satisfies [string, Float64Array, NoiseShape][])('%s', (_name, time, shape) => {
    const weights = time.map(() => 1 + Math.floor(5 * uniform()));
    const y = time.map(() => normal());
    const whitener = new Whitener(time, weights, 1);
    expect(whitener.shape(shape)).toBe(true);
    const out = new Float64Array(time.length);
    whitener.whiten(y, out);
    const lower = cholesky(covariance(time, shape));
    const dense = solveLower(lower, y.map((v, i) => v * Math.sqrt(weights[i] ?? NaN)));
    dense.forEach((v, i) => expect(out[i]).toBeCloseTo(v, 9));
    const logDeterminant = 2 * lower.reduce((sum, row, i) => sum + Math.log(row[i] ?? NaN), 0);
    expect(whitener.logDeterminant).toBeCloseTo(logDeterminant, 9);
  });

  it('refuses what is no covariance', () => {
    expect(new Whitener(even, even.map(() => 1), 1).shape({ decay: 0.9, strength: 2 })).toBe(false);
  });
});

describe('averaged AR(1) noise', () => {
  it.each([[0.5, 4], [0.95, 12], [0.1, 2], [0.99, 100]])('rho %f in bins of %i: exact sums of the covariances', (rho, count) => {
    const cov = (lag: number) => {
      let sum = 0;
      for (let i = 0; i < count; i++) for (let j = 0; j < count; j++) sum += rho ** Math.abs(i - j + lag * count);
      return sum;
    };
    const { decay, strength } = binnedShape(rho ** count, count);
    expect(strength * decay).toBeCloseTo(cov(1) / cov(0), 10);
    expect(strength * decay ** 2).toBeCloseTo(cov(2) / cov(0), 10);
    const back = shapeWithCorrelation(strength * decay, count);
    expect(back.decay).toBeCloseTo(decay, 6);
  });
});

describe('Cramer-Rao bound', () => {
  /** The inverse Fisher information by elimination on dense matrices. */
  const dense = (time: readonly number[], sigma: number, tau: number, c: number, rho: number): number => {
    const columns = [
      time.map(() => 1),
      time.map((t) => t),
      time.map((t) => Math.exp(-t / tau)),
      ...(c === 0 ? [] : [time.map((t) => ((c * t) / tau ** 2) * Math.exp(-t / tau))]),
    ];
    const step = (time[1] ?? NaN) - (time[0] ?? NaN);
    const lower = cholesky(covariance(time.map((t) => t / step), { decay: rho, strength: rho === 0 ? 0 : 1 }));
    const white = columns.map((column) => solveLower(lower, column));
    const order = [0, 2, ...(c === 0 ? [] : [3]), 1];
    const information = order.map((i) => order.map((j) => (white[i] ?? []).reduce((sum, v, m) => sum + v * (white[j]?.[m] ?? NaN), 0)));
    const factor = cholesky(information);
    return (60 * sigma) / (factor[order.length - 1]?.[order.length - 1] ?? NaN);
  };
  const time = Array.from({ length: 120 }, (_, i) => i / 2);
  it.each([
    [0.1, 8, 5, 0],
    [0.1, 8, 0.3, 0],
    [1, 30, 5, 0],
    [0.2, 8, 5, 0.8],
    [0.1, 8, 0, 0.3],
  ])('sigma %f, tau %f, c %f, rho %f', (sigma, tau, c, rho) => {
    expect(leakRateBound({ time, sigma, tau, c, rho })).toBeCloseTo(dense(time, sigma, tau, c, rho), 7);
  });

  it('has no value where the samples cannot tell', () => {
    expect(leakRateBound({ time: [0, 1, 2], sigma: 0.1, tau: 5, c: 1 })).toBeNaN();
  });
});
