/**
 * GUM (JCGM 100:2008), annex H.3: calibration of a thermometer, table H.6. Digits beyond the published ones follow from
 * the published data by exact least squares.
 */
import { describe, expect, it } from 'vitest';
import { correctionAt, fitCalibration } from '../../src/core/fit/calibration-line.js';

const table: readonly (readonly [number, number])[] = [
  [21.521, -0.171], [22.012, -0.169], [22.512, -0.166], [23.003, -0.159], [23.507, -0.164], [23.999, -0.165],
  [24.513, -0.156], [25.002, -0.157], [25.503, -0.159], [26.01, -0.161], [26.511, -0.16],
];
const points = table.map(([reading, correction]) => ({ reading, reference: reading + correction }));

describe('GUM H.3', () => {
  const line = fitCalibration(points, 1, 20);

  it('gives intercept, slope, their uncertainties, correlation and scatter', () => {
    expect(line?.coefficients[0]).toBeCloseTo(-0.17120379013135, 11);
    expect(line?.coefficients[1]).toBeCloseTo(0.0021826977398873, 12);
    expect(line?.standardErrors[0]).toBeCloseTo(0.0028776, 7);
    expect(line?.standardErrors[1]).toBeCloseTo(0.00066793877, 10);
    expect(line?.residual).toBeCloseTo(0.00349756396, 10);
    expect(line?.dof).toBe(9);
    const [, covariance = NaN] = line?.covariance ?? [];
    expect(covariance).toBeCloseTo(-1.78834e-6, 11);
    const [s1 = NaN, s2 = NaN] = line?.standardErrors ?? [];
    expect(covariance / (s1 * s2)).toBeCloseTo(-0.930429603, 8);
  });

  it('gives the correction at 30 degC with the covariance in its uncertainty', () => {
    const at30 = line === null ? undefined : correctionAt(line, 30);
    expect(at30?.correction).toBeCloseTo(-0.14937681273, 10);
    expect(at30?.uncertainty).toBeCloseTo(0.00413859575, 9);
  });

  it('counted from the mean reading the two coefficients are independent and the prediction is the same', () => {
    const centred = fitCalibration(points, 1);
    expect(centred?.centre).toBeCloseTo(24.00845454545, 10);
    expect(centred?.coefficients[0]).toBeCloseTo(-0.16245454545, 10);
    expect(centred?.standardErrors[0]).toBeCloseTo(0.00105456, 8);
    expect(Math.abs(centred?.covariance[1] ?? NaN)).toBeLessThan(1e-18);
    const at30 = centred === null ? undefined : correctionAt(centred, 30);
    expect(at30?.correction).toBeCloseTo(-0.14937681273, 10);
    expect(at30?.uncertainty).toBeCloseTo(0.00413859575, 9);
  });
});
