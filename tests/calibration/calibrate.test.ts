import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { calibrate, type CalibrateOptions } from '../../src/calibration/calibrate.js';
import type { Point } from '../../src/calibration/runs.js';
import { InputError } from '../../src/core/problems.js';

const points = (pairs: readonly (readonly [number, number])[]): Point[] => pairs.map(([reference, reading], i) => ({ reference, reading, line: i + 2 }));
const run = (pairs: readonly (readonly [number, number])[], options: Partial<CalibrateOptions> = {}) => calibrate(points(pairs), { degree: 1, ...options }, 'p.csv');
const levels = [0, 100, 200, 300, 400, 500, 600];

describe('calibrate', () => {
  it('finds the curve that the instrument has', () => {
    fc.assert(fc.property(fc.double({ min: -5, max: 5, noNaN: true }), fc.double({ min: 0.9, max: 1.1, noNaN: true }), fc.double({ min: -1e-5, max: 1e-5, noNaN: true }), (constant, linear, quadratic) => {
      const result = run(levels.map((reading) => [constant + linear * reading + quadratic * reading ** 2, reading]), { degree: 2 });
      expect(result.constant.value).toBeCloseTo(constant, 8);
      expect(result.linear.value).toBeCloseTo(linear, 9);
      expect(result.quadratic?.value).toBeCloseTo(quadratic, 11);
      for (const { corrected, reference } of result.points) expect(corrected).toBeCloseTo(reference, 7);
    }));
  });

  it('adds resolution and reference to the uncertainty by their squares (GUM F.2.2.1, 5.1.2)', () => {
    const exact = levels.map((p) => [p, p] as const);
    // Without scatter only what is known in advance remains, and k is 2 for 95.45 %.
    const { uncertainty, coverageFactor } = run(exact, { resolution: 0.5, referenceUncertainty: 0.2 });
    expect(coverageFactor).toBeCloseTo(2, 5);
    expect(uncertainty).toBeCloseTo(2 * Math.hypot(0.2, 0.5 / Math.sqrt(12)), 6);
  });

  it('takes a larger factor for few points (GUM table G.2: 2.37 for 8 degrees of freedom)', () => {
    const noisy = Array.from({ length: 10 }, (_, i) => [i * 60, i * 60 + (i % 2 === 0 ? 0.1 : -0.1)] as const);
    const result = run(noisy);
    expect(result.degreesOfFreedom).toBe(8);
    expect(result.coverageFactor).toBeCloseTo(2.37, 2);
    const both = run(noisy, { referenceUncertainty: 10 });
    expect(both.coverageFactor).toBeCloseTo(2, 3);
  });

  it('tells figures in % of the range where one is given', () => {
    const bent = [0, 100, 200].map((p) => [p, p + (p === 100 ? 0.3 : 0)] as const);
    expect(run(bent).figures.nonLinearity).toBeCloseTo(0.1, 12);
    expect(run(bent, { range: { lower: 0, upper: 400 } }).figures.nonLinearity).toBeCloseTo(0.05, 12);
  });

  it.each<[string, readonly (readonly [number, number])[], Partial<CalibrateOptions>, string]>([
    ['two points', [[0, 0], [100, 100]], {}, '2 points are too few for a straight line; take at least 3'],
    ['three points for a quadratic', [[0, 0], [100, 100], [200, 200]], { degree: 2 }, '3 points are too few for a quadratic; take at least 4'],
    ['two pressures again and again', [[0, 0], [100, 100], [0, 0], [100, 100]], {}, '2 different pressures are too few'],
    ['points that are all alike', [[100, 100], [101, 101], [102, 102], [103, 103]], {}, 'lie between 100 and 103 bar: they should cover at least 10 % of the highest pressure'],
    ['the same pressure', [[100, 100], [100, 101], [100, 102]], {}, 'should cover at least 10 %'],
    ['points in the lower third of the range', [[0, 0], [100, 100], [200, 200]], { range: { lower: 0, upper: 600 } }, 'should cover at least 50 % of the range'],
    ['a sign that is wrong', levels.map((p) => [p, -p]), {}, 'the reading falls while the reference rises'],
    ['psi taken for bar', levels.map((p) => [p, p * 14.5038]), {}, 'the reference is 0.06895 times the reading, as psi is to bar'],
    ['a curve that turns back', [[0, 0], [150, 100], [250, 200], [300, 300], [310, 400], [300, 500]], { degree: 2 }, 'turns back within the range'],
    ['a reading that stands still', [[0, 5], [100, 5], [200, 5]], {}, 'do not determine'],
  ])('refuses %s', (_what, pairs, options, sentence) => {
    expect(() => run(pairs, options)).toThrow(InputError);
    expect(() => run(pairs, options)).toThrow(sentence);
  });
});
