/** A calibration curve through reference and reading: straight line or quadratic, with what is not known about it. */
import { fitLinear } from './linear-least-squares.js';

/** One point of a calibration certificate. Both in the same unit. */
export interface CalibrationPoint {
  /** What the instrument showed. */
  readonly reading: number;
  /** What was really there, less or plus nothing: the standard's value. */
  readonly reference: number;
  /** Standard uncertainty of the point; where all points have one they are weighted by 1/u^2. */
  readonly uncertainty?: number;
}

export interface CalibrationLine {
  readonly degree: 1 | 2;
  /** Reading that the coefficients count from. */
  readonly centre: number;
  /** correction = sum of coefficient k x (reading - centre)^k; lowest power first. */
  readonly coefficients: readonly number[];
  readonly standardErrors: readonly number[];
  /** Covariance of the coefficients, row by row. */
  readonly covariance: readonly number[];
  /** Standard deviation of the points around the curve. */
  readonly residual: number;
  /** reference - reading - correction at each point. */
  readonly residuals: readonly number[];
  readonly dof: number;
  /** Lowest and highest reading that the points cover. */
  readonly range: { readonly lower: number; readonly upper: number };
}

/**
 * Fits the correction (reference - reading) against the reading by least squares, as in the GUM (JCGM 100:2008), H.3.
 * @param degree 1 for a straight line, 2 for a quadratic
 * @param centre reading to count from; the mean reading when left out, which makes the coefficients nearly independent
 * @returns `null` for fewer than `degree` + 2 points or too few different readings
 */
export function fitCalibration(points: readonly CalibrationPoint[], degree: 1 | 2, centre?: number): CalibrationLine | null {
  if (points.length < degree + 2) return null;
  const readings = points.map((p) => p.reading);
  const from = centre ?? readings.reduce((sum, r) => sum + r, 0) / readings.length;
  const columns = Array.from({ length: degree + 1 }, (_, k) => readings.map((r) => (r - from) ** k));
  const corrections = points.map((p) => p.reference - p.reading);
  const uncertainties = points.map((p) => p.uncertainty ?? 0);
  const weighted = uncertainties.every((u) => u > 0);
  const fit = fitLinear(columns, corrections, weighted ? uncertainties.map((u) => 1 / (u * u)) : undefined);
  if (fit === null) return null;
  // Known uncertainties count as they are where the scatter is smaller than they say, so that luck does not shrink them.
  const variance = weighted ? Math.max(1, fit.variance) : fit.variance;
  const covariance = Array.from(fit.unitCovariance, (c) => c * variance);
  return {
    degree,
    centre: from,
    coefficients: Array.from(fit.estimates),
    standardErrors: Array.from({ length: degree + 1 }, (_, k) => Math.sqrt(covariance[k * (degree + 2)] as number)),
    covariance,
    residual: weighted ? Math.sqrt(fit.residuals.reduce((sum, r) => sum + r * r, 0) / fit.dof) : Math.sqrt(fit.variance),
    residuals: Array.from(fit.residuals),
    dof: fit.dof,
    range: { lower: Math.min(...readings), upper: Math.max(...readings) },
  };
}

/**
 * Correction to add to a reading, with the standard uncertainty of the curve there (GUM H.3.4 and H.3.5: the covariance
 * of the coefficients counts; leaving it out makes the uncertainty far too large). The scatter of a single reading is
 * not in it.
 */
export function correctionAt(line: CalibrationLine, reading: number): { correction: number; uncertainty: number } {
  const powers = line.coefficients.map((_, k) => (reading - line.centre) ** k);
  const size = powers.length;
  let correction = 0;
  let variance = 0;
  powers.forEach((power, i) => {
    correction += power * (line.coefficients[i] as number);
    powers.forEach((other, j) => (variance += power * other * (line.covariance[i * size + j] as number)));
  });
  return { correction, uncertainty: Math.sqrt(Math.max(0, variance)) };
}
