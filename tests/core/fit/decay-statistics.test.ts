/** Monte Carlo with fixed seeds: what the fit says of its own error has to be so. */
import { describe, expect, it } from 'vitest';
import { leakRateBound } from '../../../src/core/fit/cramer-rao.js';
import { fitDecay } from '../../../src/core/fit/decay.js';
import { median } from '../../../src/core/fit/statistics.js';
import { type Hold, plainHold, randomNumbers, recorded, sampleTimes } from './simulated-hold.js';

/** Share of intervals that hold the truth, error over the bound, mean error over the standard error. */
function study(change: Partial<Hold>, runs: number, seed: number) {
  const hold = { ...plainHold, ...change };
  const { normal } = randomNumbers(seed);
  let [held, sum, square, errors] = [0, 0, 0, 0];
  for (let run = 0; run < runs; run++) {
    const fit = fitDecay(recorded(hold, normal, 150), { resolution: hold.step });
    if (fit === null) throw new Error('no fit');
    const error = fit.leakRate - hold.leak;
    if (Math.abs(error) <= 1.96 * fit.standardError) held++;
    sum += error;
    square += error * error;
    errors += fit.standardError;
  }
  const bound = leakRateBound({ time: sampleTimes(hold), sigma: hold.sigma, tau: hold.tau, c: hold.c, rho: hold.rho });
  return { held, runs, efficiency: Math.sqrt(square / runs) / bound, bias: sum / errors };
}

const plain: readonly (readonly [string, Partial<Hold>])[] = [
  ['60 s at 20 Hz', {}],
  ['30 bar of settling', { c: 30, tau: 5 }],
  ['slow settling', { c: 10, tau: 20, length: 120 }],
  ['little noise, large leak', { sigma: 0.02, leak: 10 }],
  ['much noise at 1000 Hz', { sigma: 1, rate: 1000, length: 20, tau: 3, c: 20 }],
  ['correlated noise', { rho: 0.5 }],
  ['strongly correlated noise', { rho: 0.95, rate: 100 }],
  ['strongly correlated noise at 5 Hz', { rho: 0.9, rate: 5, length: 200, tau: 12 }],
  ['readings in steps of 0.1 bar', { step: 0.1 }],
];

describe('where tau can be told', () => {
  const results = plain.map(([name, change], k) => [name, study(change, 120, 100 + k)] as const);

  it('95 % of the intervals hold the true rate', () => {
    const share = results.reduce((sum, [, r]) => sum + r.held, 0) / results.reduce((sum, [, r]) => sum + r.runs, 0);
    expect(share).toBeGreaterThan(0.93);
    expect(share).toBeLessThan(0.97);
  });

  it.each(results)('%s: coverage, efficiency and bias', (_name, { held, runs, efficiency, bias }) => {
    // 120 runs leave 2 % of doubt about a coverage of 95 %, 6.5 % about an efficiency, 0.09 about a bias.
    expect(held / runs).toBeGreaterThan(0.88);
    expect(efficiency).toBeLessThan(1.25);
    expect(efficiency).toBeGreaterThan(0.75);
    expect(Math.abs(bias)).toBeLessThan(0.3);
  });

  it('the error is near the Cramer-Rao bound', () => {
    expect(median(results.map(([, r]) => r.efficiency))).toBeLessThan(1.15);
    expect(Math.abs(median(results.map(([, r]) => r.bias)))).toBeLessThan(0.1);
  });
});

describe('where tau can hardly be told, the interval still holds the truth', () => {
  it.each([
    ['no settling at all', { c: 0 }],
    ['settling lost in the noise', { c: 0.1 }],
    ['settling as long as the window', { tau: 60 }],
    ['settling longer than the window', { tau: 60, c: 30, length: 20 }],
    ['few samples, strongly correlated', { rate: 5, length: 20, rho: 0.9 }],
    ['noise far below the step of the reading', { sigma: 0.02, step: 0.1, c: 0, leak: 0.5 }],
  ])('%s', (_name, change) => {
    const { held, runs } = study(change, 60, 7);
    expect(held / runs).toBeGreaterThan(0.87);
  });
});
