/**
 * Certified values: NIST Statistical Reference Datasets (StRD), nonlinear regression, the sets made of exponentials:
 * Misra1a, BoxBOD, MGH17, Lanczos3. The fit of this project is separable (linear columns and one tau at a time), so each
 * set is brought into that form; the last digits then come from Gauss-Newton steps on `fitLinear`.
 */
import { describe, expect, it } from 'vitest';
import { boundedMinimum } from '../../src/core/fit/bounded-minimum.js';
import { Whitener, whiteNoise } from '../../src/core/fit/correlated-noise.js';
import { DecayProfile, type ProfilePoint } from '../../src/core/fit/decay-profile.js';
import { fitLinear, type LinearFit } from '../../src/core/fit/linear-least-squares.js';
import { boxBod, lanczos3, mgh17, misra1a } from './nist-datasets.js';

const digits = (found: number, certified: number): number => -Math.log10(Math.max(1e-17, Math.abs(found / certified - 1)));

function solved(fit: LinearFit | null): LinearFit {
  if (fit === null) throw new Error('no fit');
  return fit;
}

/** Gauss-Newton from `start`: the columns are the derivatives of the model; halves a step that makes the fit worse. */
function gaussNewton(
  pairs: readonly (readonly [number, number])[],
  model: (b: readonly number[], x: number) => number,
  slopes: readonly ((b: readonly number[], x: number) => number)[],
  start: readonly number[],
): { estimates: readonly number[]; fit: LinearFit } {
  const misfit = (b: readonly number[]) => pairs.map(([x, y]) => y - model(b, x));
  const square = (b: readonly number[]) => misfit(b).reduce((sum, r) => sum + r * r, 0);
  const linear = (b: readonly number[]) => solved(fitLinear(slopes.map((s) => pairs.map(([x]) => s(b, x))), misfit(b)));
  let b = [...start];
  for (let round = 0; round < 60; round++) {
    const { estimates } = linear(b);
    let share = 1;
    while (share > 1e-3 && !(square(b.map((v, k) => v + share * (estimates[k] ?? 0))) <= square(b))) share /= 2;
    b = b.map((v, k) => v + share * (estimates[k] ?? 0));
  }
  return { estimates: b, fit: linear(b) };
}

function check(found: { estimates: readonly number[]; fit: LinearFit }, certified: readonly number[], deviations: readonly number[], rss: number, least: number) {
  certified.forEach((value, k) => expect(digits(found.estimates[k] ?? NaN, value), `b${k + 1}`).toBeGreaterThan(least));
  deviations.forEach((value, k) => expect(digits(found.fit.standardErrors[k] ?? NaN, value), `sd of b${k + 1}`).toBeGreaterThan(least));
  expect(digits(found.fit.rss, rss)).toBeGreaterThan(least);
}

describe('NIST StRD nonlinear least squares, to 6 digits or more', () => {
  it.each([
    ['Misra1a', misra1a, [2.3894212918e2, 5.5015643181e-4], [2.7070075241, 7.2668688436e-6], 1.2455138894e-1],
    ['BoxBOD', boxBod, [2.1380940889e2, 5.4723748542e-1], [1.2354515176e1, 1.0455993237e-1], 1.1680088766e3],
  ] as const)('%s: y = b1 (1 - exp(-b2 x)) from the bounded search over log tau alone', (_name, pairs, certified, deviations, rss) => {
    const y = pairs.map(([, value]) => value);
    const at = (logTau: number) => solved(fitLinear([pairs.map(([x]) => -Math.expm1(-x / Math.exp(logTau)))], y));
    const logTau = boundedMinimum((x) => at(x).rss, Math.log(0.1), Math.log(1e4), 1e-9);
    expect(digits(1 / Math.exp(logTau), certified[1])).toBeGreaterThan(6);
    expect(digits(at(logTau).estimates[0] ?? NaN, certified[0])).toBeGreaterThan(6);
    const polished = gaussNewton(
      pairs,
      (b, x) => -(b[0] ?? 0) * Math.expm1(-(b[1] ?? 0) * x),
      [(b, x) => -Math.expm1(-(b[1] ?? 0) * x), (b, x) => (b[0] ?? 0) * x * Math.exp(-(b[1] ?? 0) * x)],
      [at(logTau).estimates[0] ?? NaN, 1 / Math.exp(logTau)],
    );
    check(polished, certified, deviations, rss, 8);
  });

  it('MGH17: offset and two exponentials, one projected out as a linear column', () => {
    const certified = [3.7541005211e-1, 1.9358469127, -1.4646871366, 1.286753464e-2, 2.2122699662e-2];
    const deviations = [2.0723153551e-3, 2.2031669222e-1, 2.2175707739e-1, 4.4861358114e-4, 8.9471996575e-4];
    const x = Float64Array.from(mgh17, ([value]) => value);
    const y = Float64Array.from(mgh17, ([, value]) => value);
    const whitener = new Whitener(x, x.map(() => 1), 10);
    whitener.shape(whiteNoise);
    const inner = (slowTau: number): { point: ProfilePoint; profile: DecayProfile } => {
      const profile = new DecayProfile(x, y, [x.map(() => 1), x.map((v) => Math.exp(-v / slowTau))], whitener);
      profile.prepare();
      const logTau = boundedMinimum((t) => profile.at(Math.exp(t)).rss, Math.log(5), Math.log(0.8 * slowTau), 1e-7);
      return { point: profile.at(Math.exp(logTau)), profile };
    };
    const slowTau = Math.exp(boundedMinimum((t) => inner(Math.exp(t)).point.rss, Math.log(60), Math.log(140), 1e-6));
    const { point, profile } = inner(slowTau);
    const linear = profile.coefficients(point.tau, point.amplitude);
    const start = [linear[0] ?? NaN, linear[1] ?? NaN, point.amplitude, 1 / slowTau, 1 / point.tau];
    // The valley is flat: the search alone gives the residual sum of squares to 6 digits.
    expect(digits(point.rss, 5.4648946975e-5)).toBeGreaterThan(6);
    const polished = gaussNewton(
      mgh17,
      ([b1 = 0, b2 = 0, b3 = 0, b4 = 0, b5 = 0], v) => b1 + b2 * Math.exp(-v * b4) + b3 * Math.exp(-v * b5),
      [
        () => 1,
        (b, v) => Math.exp(-v * (b[3] ?? 0)),
        (b, v) => Math.exp(-v * (b[4] ?? 0)),
        (b, v) => -(b[1] ?? 0) * v * Math.exp(-v * (b[3] ?? 0)),
        (b, v) => -(b[2] ?? 0) * v * Math.exp(-v * (b[4] ?? 0)),
      ],
      start,
    );
    check(polished, certified, deviations, 5.4648946975e-5, 7);
  });

  it('Lanczos3: three exponentials from start 2', () => {
    const certified = [8.6816414977e-2, 9.5498101505e-1, 8.4400777463e-1, 2.9515951832, 1.5825685901, 4.9863565084];
    const deviations = [1.7197908859e-2, 9.7041624475e-2, 4.1488663282e-2, 1.0766312506e-1, 5.8371576281e-2, 3.4436403035e-2];
    const terms = [0, 2, 4];
    const polished = gaussNewton(
      lanczos3,
      (b, x) => terms.reduce((sum, k) => sum + (b[k] ?? 0) * Math.exp(-(b[k + 1] ?? 0) * x), 0),
      terms.flatMap((k) => [
        (b: readonly number[], x: number) => Math.exp(-(b[k + 1] ?? 0) * x),
        (b: readonly number[], x: number) => -(b[k] ?? 0) * x * Math.exp(-(b[k + 1] ?? 0) * x),
      ]),
      [0.5, 0.7, 3.6, 4.2, 4, 6.3],
    );
    check(polished, certified, deviations, 1.6117193594e-8, 6);
  });
});
