/**
 * Robust statistics and distributions against published tables: NIST/SEMATECH e-Handbook 7.2.6.2 (percentiles) and
 * 1.3.5.17.1 (the data of the Grubbs example), JCGM 100:2008 table G.2 (Student t), and against simple-statistics.
 */
import fc from 'fast-check';
import * as simple from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import {
  madToSigma, median, medianAbsoluteDeviation, normalCdf, normalQuantile, quantile, robustSigma,
} from '../../src/core/fit/statistics.js';
import { studentCdf, studentQuantile } from '../../src/core/fit/student-t.js';

const handbook = [95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.061, 95.1591, 95.1195, 95.1065, 95.0925, 95.199, 95.1682];

describe('quantiles', () => {
  it.each([
    ['R6', 95.1981],
    ['R7', 95.1957],
    ['R8', 95.1972],
  ] as const)('90th percentile of the NIST e-Handbook by rule %s is %f', (rule, value) => {
    expect(quantile(handbook, 0.9, rule)).toBeCloseTo(value, 4);
  });

  it('median and MAD agree with simple-statistics', () => {
    fc.assert(
      fc.property(fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), { minLength: 1, maxLength: 40 }), (values) => {
        expect(median(values)).toBeCloseTo(simple.median(values), 6);
        expect(medianAbsoluteDeviation(values)).toBeCloseTo(simple.medianAbsoluteDeviation(values), 6);
      }),
    );
  });

  it('the wild value of the Grubbs example moves the mean but not the robust centre and spread', () => {
    const sample = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
    expect((245.57 - simple.mean(sample)) / simple.sampleStandardDeviation(sample)).toBeCloseTo(2.4687, 3);
    expect(median(sample)).toBeCloseTo(201.37, 10);
    expect(Math.abs(245.57 - median(sample)) / robustSigma(sample)).toBeGreaterThan(20);
  });
});

describe('normal distribution', () => {
  it.each([
    [0.75, 0.67449], [0.9, 1.281552], [0.95, 1.644854], [0.975, 1.959964], [0.99, 2.326348], [0.995, 2.575829], [0.999, 3.090232],
    [0.9995, 3.290527],
  ])('quantile of %f is %f', (p, z) => {
    expect(normalQuantile(p)).toBeCloseTo(z, 6);
    expect(normalQuantile(1 - p)).toBeCloseTo(-z, 6);
  });

  it('central probabilities of 1, 1.96, 2 and 3 sigma', () => {
    const central = (z: number) => normalCdf(z) - normalCdf(-z);
    expect(central(1)).toBeCloseTo(0.6826894921, 10);
    expect(central(1.96)).toBeCloseTo(0.9500042097, 10);
    expect(central(2)).toBeCloseTo(0.9544997361, 10);
    expect(central(3)).toBeCloseTo(0.9973002039, 10);
  });

  it('makes the MAD factor', () => expect(1 / normalQuantile(0.75)).toBeCloseTo(madToSigma, 13));

  it('quantile undoes the distribution, far into the tails', () => {
    for (const z of [-8, -5, -3.001, -2.999, -1, 0, 0.5, 2.5]) expect(normalQuantile(normalCdf(z))).toBeCloseTo(z, 9);
  });
});

describe('Student t', () => {
  const probabilities = [0.9, 0.95, 0.975, 0.99, 0.995];
  it.each([
    [1, [3.0777, 6.3138, 12.7062, 31.8205, 63.6567], 13.968],
    [2, [1.8856, 2.92, 4.3027, 6.9646, 9.9248], 4.527],
    [3, [1.6377, 2.3534, 3.1824, 4.5407, 5.8409], 3.307],
    [4, [1.5332, 2.1318, 2.7764, 3.7469, 4.6041], 2.869],
    [5, [1.4759, 2.015, 2.5706, 3.3649, 4.0321], 2.649],
    [8, [1.3968, 1.8595, 2.306, 2.8965, 3.3554], 2.366],
    [10, [1.3722, 1.8125, 2.2281, 2.7638, 3.1693], 2.284],
    [20, [1.3253, 1.7247, 2.086, 2.528, 2.8453], 2.133],
    [30, [1.3104, 1.6973, 2.0423, 2.4573, 2.75], 2.087],
    [60, [1.2958, 1.6706, 2.0003, 2.3901, 2.6603], 2.043],
    [120, [1.2886, 1.6577, 1.9799, 2.3578, 2.6174], 2.021],
    [1e9, [1.2816, 1.6449, 1.96, 2.3263, 2.5758], 2.0],
  ])('%i degrees of freedom', (dof, row, k) => {
    probabilities.forEach((p, i) => {
      expect(studentQuantile(p, dof)).toBeCloseTo(row[i] ?? NaN, 4);
      expect(studentCdf(row[i] ?? NaN, dof)).toBeCloseTo(p, 4);
    });
    expect(studentQuantile(0.5 + 0.954499736104 / 2, dof)).toBeCloseTo(k, 3);
  });

  it('works between whole degrees of freedom and is even', () => {
    expect(studentQuantile(0.975, 7.5)).toBeGreaterThan(studentQuantile(0.975, 8));
    expect(studentQuantile(0.975, 7.5)).toBeLessThan(studentQuantile(0.975, 7));
    expect(studentQuantile(0.025, 7.5)).toBe(-studentQuantile(0.975, 7.5));
    expect(studentCdf(-1.2, 7.5) + studentCdf(1.2, 7.5)).toBeCloseTo(1, 14);
  });
});
