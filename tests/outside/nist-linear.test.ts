/** Certified values: NIST Statistical Reference Datasets (StRD), linear regression, sets Norris and Pontius. */
import { describe, expect, it } from 'vitest';
import { fitLinear, type LinearFit } from '../../src/core/fit/linear-least-squares.js';
import { norris, pontius } from './nist-datasets.js';

/** Digits that agree: -log10 of the relative error. */
const digits = (found: number, certified: number): number => -Math.log10(Math.max(1e-17, Math.abs(found / certified - 1)));

const polynomial = (pairs: readonly (readonly [number, number])[], degree: number): LinearFit => {
  const columns = Array.from({ length: degree + 1 }, (_, k) => pairs.map(([x]) => x ** k));
  const fit = fitLinear(columns, pairs.map(([, y]) => y));
  if (fit === null) throw new Error('no fit');
  return fit;
};

describe('NIST StRD linear least squares, to 9 digits or more', () => {
  it.each([
    [
      'Norris', polynomial(norris, 1), 34,
      [-0.262323073774029, 1.00211681802045], [0.232818234301152, 0.429796848199937e-3], 0.884796396144373, 26.6173985294224,
    ],
    [
      'Pontius', polynomial(pontius, 2), 37,
      [0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14],
      [0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16], 0.205177424076185e-3, 0.155761768796992e-5,
    ],
  ] as const)('%s', (_name, fit, dof, estimates, deviations, residual, rss) => {
    expect(fit.dof).toBe(dof);
    estimates.forEach((certified, k) => expect(digits(fit.estimates[k] ?? NaN, certified)).toBeGreaterThan(9));
    deviations.forEach((certified, k) => expect(digits(fit.standardErrors[k] ?? NaN, certified)).toBeGreaterThan(9));
    expect(digits(Math.sqrt(fit.variance), residual)).toBeGreaterThan(9);
    expect(digits(fit.rss, rss)).toBeGreaterThan(9);
  });
});
