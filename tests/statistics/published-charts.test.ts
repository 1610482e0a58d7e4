import fc from 'fast-check';
import { quantile as foreignQuantile, sampleStandardDeviation } from 'simple-statistics';
import { describe, expect, it } from 'vitest';
import { distributionOf } from '../../src/statistics/distribution.js';
import { ewmaChart } from '../../src/statistics/ewma-chart.js';
import { individualsLimits, movingRanges } from '../../src/statistics/individuals-chart.js';
import { brokenRunRules } from '../../src/statistics/run-rules.js';
import { wilsonInterval } from '../../src/statistics/wilson-interval.js';

describe('individuals chart', () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, example of the flow rate of a batch process.
  const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];

  it('agrees with NIST/SEMATECH 6.3.2.2', () => {
    const limits = individualsLimits(flow);
    expect(limits?.centre).toBeCloseTo(50.81, 10);
    expect(limits?.meanRange).toBeCloseTo(1.8778, 4);
    // The page divides by 1.128 where 2/sqrt(pi) = 1.12838: 0.002 of a limit.
    expect(limits?.upper).toBeCloseTo(55.8041, 2);
    expect(limits?.lower).toBeCloseTo(45.8159, 2);
    expect(limits?.upperRange).toBeCloseTo(3.267 * 1.8778, 3);
  });

  it('finds nothing beyond its limits there, as the page says', () => {
    const limits = individualsLimits(flow);
    expect(brokenRunRules(flow, limits?.centre ?? 0, limits?.sigma ?? 0).filter(({ rule }) => rule === 'beyond 3')).toEqual([]);
  });

  it('needs two values, and its ranges are one fewer', () => {
    expect(individualsLimits([3])).toBeNull();
    expect(movingRanges([1, 4, 2])).toEqual([3, 2]);
  });
});

describe('EWMA chart', () => {
  // NIST/SEMATECH e-Handbook 6.3.2.4: lambda 0.3, EWMA_0 50, s 2.0539, k 3.
  const values = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
  const printed = [50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99];

  it('agrees with NIST/SEMATECH 6.3.2.4', () => {
    const chart = ewmaChart(values, { weight: 0.3, target: 50, sigma: 2.0539, width: 3 });
    expect(chart.averages).toHaveLength(printed.length);
    chart.averages.forEach((average, i) => expect(Math.abs(average - (printed[i] ?? 0))).toBeLessThan(0.00501));
    expect(chart.upper).toBeCloseTo(52.5884, 3);
    expect(chart.lower).toBeCloseTo(47.4115, 3);
  });

  it('refuses a weight that is none', () => {
    expect(() => ewmaChart(values, { weight: 0, target: 50, sigma: 2, width: 3 })).toThrow(RangeError);
  });
});

describe('Wilson interval', () => {
  // Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3 (values from memory).
  it.each([[81, 263, 0.2553, 0.3662], [15, 148, 0.0624, 0.1605], [0, 20, 0, 0.1611], [1, 29, 0.0061, 0.1718]])('of %i in %i agrees with Newcombe 1998', (hits, trials, lower, upper) => {
    const interval = wilsonInterval(hits, trials);
    expect(interval?.lower).toBeCloseTo(lower, 4);
    expect(interval?.upper).toBeCloseTo(upper, 4);
  });

  it('solves the equation that NIST/SEMATECH 7.2.4.1 states: its ends are the shares whose test statistic is z', () => {
    // The example of 7.2.4.2 (4 of 20, 90 %); z(0.05) = 1.644854 as tables print it.
    const { share, lower, upper } = wilsonInterval(4, 20, 0.9) ?? { share: 0, lower: 0, upper: 0 };
    const statistic = (p: number): number => (share - p) / Math.sqrt((p * (1 - p)) / 20);
    expect(statistic(lower)).toBeCloseTo(1.644854, 5);
    expect(statistic(upper)).toBeCloseTo(-1.644854, 5);
  });

  it('says nothing without trials, and never leaves 0 to 1', () => {
    expect(wilsonInterval(0, 0)).toBeNull();
    expect(() => wilsonInterval(3, 2)).toThrow(RangeError);
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 5000 }), fc.nat(), (trials, any) => {
        const { share, lower, upper } = wilsonInterval(any % (trials + 1), trials) ?? { share: -1, lower: 0, upper: 0 };
        return lower >= 0 && lower <= share && share <= upper && upper <= 1;
      }),
    );
  });
});

describe('run rules', () => {
  // The four zone rules as NIST/SEMATECH 6.3.2 lists them ("WECO rules"); one series that breaks each, and one that just does not.
  it.each([
    ['beyond 3', [0, 3.1], [0, 3]],
    ['2 of 3 beyond 2', [2.1, 0, 2.1], [2.1, 0, 0, 2.1]],
    ['4 of 5 beyond 1', [1.1, 1.1, 0, 1.1, 1.1], [1.1, 1.1, 0, 0, 1.1, 1.1]],
    ['8 on one side', [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1], [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, -0.1]],
  ] as const)('%s', (rule, broken, kept) => {
    expect(brokenRunRules(broken, 0, 1)).toEqual([{ at: broken.length - 1, rule, side: 'above' }]);
    expect(brokenRunRules(broken.map((value) => 50 - 2 * value), 50, 2)).toEqual([{ at: broken.length - 1, rule, side: 'below' }]);
    expect(brokenRunRules(kept, 0, 1)).toEqual([]);
  });

  it('counts opposite sides apart', () => expect(brokenRunRules([2.1, -2.1, 0], 0, 1)).toEqual([]));
  it('can tell nothing without a spread', () => expect(brokenRunRules([1, 9], 1, 0)).toEqual([]));
});

describe('distribution', () => {
  const numbers = fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), { minLength: 1, maxLength: 400 });

  it('takes values that differ by less than any instrument tells for one', () => {
    expect(distributionOf([0, -5e-324])?.columns.reduce((sum, { count }) => sum + count, 0)).toBe(2);
    expect(distributionOf([-550, -550 - 1e-12])?.columns.length).toBeLessThanOrEqual(2);
  });

  it('keeps every value in one column', () => {
    fc.assert(fc.property(numbers, (values) => {
      const { columns } = distributionOf(values) ?? { columns: [] };
      expect(columns.reduce((sum, { count }) => sum + count, 0)).toBe(values.length);
      expect(columns.length).toBeLessThanOrEqual(100);
    }));
  });

  it('has mean and deviation as simple-statistics computes them', () => {
    fc.assert(fc.property(fc.array(fc.double({ min: -1e3, max: 1e3, noNaN: true }), { minLength: 2, maxLength: 200 }), (values) => {
      expect(distributionOf(values)?.deviation).toBeCloseTo(sampleStandardDeviation(values), 6);
    }));
  });

  it('has the median that simple-statistics finds', () => {
    const values = [4.1, 0.2, 9.9, 3.3, 7.5, 1.1, 6.6];
    expect(distributionOf(values)?.median).toBe(foreignQuantile(values, 0.5));
    expect(distributionOf([])).toBeNull();
  });

  it('draws values that are all alike', () => expect(distributionOf([5, 5, 5])?.columns.filter(({ count }) => count > 0)).toHaveLength(1));
});
