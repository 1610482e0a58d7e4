import { correctionAt, fitCalibration, type CalibrationLine } from '../core/fit/calibration-line.js';
import { studentQuantile } from '../core/fit/student-t.js';
import { inputError } from '../core/problems.js';
import { barPer, pressureUnits } from '../core/units.js';
import { figuresOf, type Figures } from './figures.js';
import { levelsOf, runsOf, type Point, type Run } from './runs.js';

export interface CalibrateOptions {
  readonly degree: 1 | 2;
  /** Range of the transducer, bar; absent: what the points cover. */
  readonly range?: { readonly lower: number; readonly upper: number };
  /** Smallest step of the reading, bar. */
  readonly resolution?: number;
  /** Standard uncertainty of the reference, bar. */
  readonly referenceUncertainty?: number;
}

/** The corrected pressure at one reading; all in bar. */
export interface CorrectedAt {
  readonly reading: number;
  readonly corrected: number;
  /** Standard uncertainty of the curve there. */
  readonly curve: number;
  /** Expanded uncertainty of one corrected reading there. */
  readonly expanded: number;
}

/** What a calibration came to. Pressures in bar. */
export interface CalibrationResult {
  /** corrected = constant + linear reading + quadratic reading^2, with standard uncertainties. */
  readonly constant: Estimate;
  readonly linear: Estimate;
  /** `null` for a straight line. */
  readonly quadratic: Estimate | null;
  readonly points: readonly (Point & { readonly corrected: number; /** reference less corrected */ readonly residual: number })[];
  readonly residualDeviation: number;
  readonly degreesOfFreedom: number;
  readonly span: number;
  readonly runs: readonly Run[];
  readonly figures: Figures;
  readonly over: readonly CorrectedAt[];
  /** Largest expanded uncertainty over the points' range, and the coverage factor behind it. */
  readonly uncertainty: number;
  readonly coverageFactor: number;
}

export interface Estimate {
  readonly value: number;
  readonly uncertainty: number;
}

/** Probability that the coverage factor 2 of a normal distribution stands for. */
const coverage = 0.954_499_736_1;
/** Readings at which the uncertainty is told. */
const steps = 10;
/** Shares of the range, and of the highest pressure where no range is told, that the points must cover. */
const leastOfRange = 0.5;
const leastOfHighest = 0.1;

/**
 * Fits the corrected pressure against the reading, as GUM (JCGM 100:2008) H.3 does, and tells what is not known about it.
 * @param source name of the file, for messages
 * @throws InputError for points from which no calibration can be made
 */
export function calibrate(points: readonly Point[], options: CalibrateOptions, source: string): CalibrationResult {
  const { degree, resolution = 0, referenceUncertainty = 0 } = options;
  const covered = refuseTooFew(points, options, source);
  const line = fitCalibration(points, degree, 0);
  if (line === null) throw inputError(source, '', `the readings do not determine a ${degree === 1 ? 'line' : 'quadratic'}: they are too much alike`);
  refuseWrongCurve(line, points, source);
  const estimate = (k: number, added = 0): Estimate => ({ value: (line.coefficients[k] ?? 0) + added, uncertainty: line.standardErrors[k] ?? 0 });
  const steady = Math.hypot(referenceUncertainty, resolution / (2 * Math.sqrt(3)));
  const { lower, upper } = line.range;
  const over = Array.from({ length: steps + 1 }, (_, i) => {
    const reading = lower + ((upper - lower) * i) / steps;
    const at = correctionAt(line, reading);
    const scatter = Math.hypot(at.uncertainty, line.residual);
    const { factor, expanded } = expand(scatter, line.dof, steady);
    return { reading, corrected: reading + at.correction, curve: at.uncertainty, expanded, factor };
  });
  const worst = over.reduce((a, b) => (b.expanded > a.expanded ? b : a));
  const runs = runsOf(points);
  const span = options.range === undefined ? covered : options.range.upper - options.range.lower;
  return {
    constant: estimate(0),
    linear: estimate(1, 1),
    quadratic: degree === 2 ? estimate(2) : null,
    points: points.map((point, i) => {
      const residual = line.residuals[i] ?? 0;
      return { ...point, corrected: point.reference - residual, residual };
    }),
    residualDeviation: line.residual,
    degreesOfFreedom: line.dof,
    span,
    runs,
    figures: figuresOf(points, runs, span),
    over: over.map(({ reading, corrected, curve, expanded }) => ({ reading, corrected, curve, expanded })),
    uncertainty: worst.expanded,
    coverageFactor: worst.factor,
  };
}

/** Expanded uncertainty: the scatter counts with its degrees of freedom (Welch and Satterthwaite, GUM G.4), the rest is known. */
function expand(scatter: number, dof: number, steady: number): { factor: number; expanded: number } {
  const combined = Math.hypot(scatter, steady);
  const effective = scatter > 0 ? dof * (combined / scatter) ** 4 : Infinity;
  const factor = studentQuantile((1 + coverage) / 2, Math.min(effective, 1e9));
  return { factor, expanded: factor * combined };
}

/** @returns what the references cover, bar */
function refuseTooFew(points: readonly Point[], { degree, range }: CalibrateOptions, source: string): number {
  const name = degree === 1 ? 'a straight line' : 'a quadratic';
  if (points.length < degree + 2) throw inputError(source, '', `${points.length} points are too few for ${name}; take at least ${degree + 2}, better 6 or more, up and down`);
  const references = points.map((p) => p.reference);
  const lowest = Math.min(...references);
  const highest = Math.max(...references);
  const covered = highest - lowest;
  const [least, of] = range === undefined ? [leastOfHighest * Math.max(Math.abs(highest), Math.abs(lowest)), 'the highest pressure'] : [leastOfRange * (range.upper - range.lower), 'the range'];
  if (!(covered > 0) || covered < least) {
    throw inputError(source, '', `the reference pressures lie between ${figure(lowest)} and ${figure(highest)} bar: they should cover at least ${range === undefined ? '10' : '50'} % of ${of}`);
  }
  const levels = levelsOf(points).length;
  if (levels < degree + 2) throw inputError(source, '', `${levels} different pressures are too few for ${name}; take at least ${degree + 2}, spread over the range`);
  return covered;
}

/** A curve that no transducer has: turned round, of another unit, or turning back within its range. */
function refuseWrongCurve(line: CalibrationLine, points: readonly Point[], source: string): void {
  const slope = 1 + trend(points);
  if (slope < 0) throw inputError(source, '', 'the reading falls while the reference rises; are the columns, the sign or the wires the right way round?');
  if (slope < 0.5 || slope > 2) throw inputError(source, '', `the reference is ${figure(slope)} times the reading${unitHint(slope)}; are both in the units that the header says?`);
  const { lower, upper } = line.range;
  const [, first = 0, second = 0] = line.coefficients;
  const slopeAt = (reading: number): number => 1 + first + 2 * second * reading;
  if (!(slopeAt(lower) > 0 && slopeAt(upper) > 0)) throw inputError(source, '', 'the fitted curve turns back within the range of the points; look for a mistyped point, or fit a straight line (--degree 1)');
}

/** Slope of the correction against the reading: a straight line, whatever the degree. */
const trend = (points: readonly Point[]): number => fitCalibration(points, 1)?.coefficients[1] ?? 0;

/** Whether one unit was taken for another: `, as psi is to bar`. */
function unitHint(slope: number): string {
  for (const one of pressureUnits) {
    for (const other of pressureUnits) {
      if (one !== other && Math.abs((slope * barPer(other)) / barPer(one) - 1) < 0.02) return `, as ${one} is to ${other}`;
    }
  }
  return '';
}

const figure = (value: number): string => String(Number(value.toPrecision(4)));
