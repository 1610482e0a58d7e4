/** The leak fit p(t) = a + b t + c exp(-t/tau): what is lost steadily (b) apart from what settles (c, tau). */
import { type Bins, type Columns, pickColumns, tamePlaces, usableColumns } from './bins.js';
import { whiteNoise } from './correlated-noise.js';
import type { DecayProfile } from './decay-profile.js';
import { FitWindow, type TauRange } from './fit-window.js';
import { type LackOfFit, lackOfFit } from './lack-of-fit.js';
import { estimateNoise } from './noise-estimate.js';
import { resolutionError } from './resolution-error.js';
import type { SlopeAnswers } from './slope-answers.js';
import { mixSlopes, type SlopeMixture } from './slope-mixture.js';
import { withSlowerSettling } from './slower-settling.js';
import { studentQuantile } from './student-t.js';
import { searchTau, type TauSearch } from './tau-search.js';

export interface DecayOptions extends TauRange {
  /** bar, smallest step of the readings; absent or 0 where it is not known. Widens the interval where noise does not blur it. */
  readonly resolution?: number;
  /** bar that may settle in an e-fold of time, too slowly to be seen; absent or 0 where one exponential is all there is. */
  readonly slowerSettling?: number;
}

/** What the fit found. Rates are positive when pressure is lost. */
export interface DecayFit {
  /** bar/min. */
  readonly leakRate: number;
  /** bar/min: `leakRate` +- 1.96 of it is the 95 % interval, all doubts included. */
  readonly standardError: number;
  /** bar/min, half width of that interval. */
  readonly halfWidth: number;
  /** bar/min: below and above these the leak lies with 2.5 % each. The same interval, but for a slower settling that may hide on one side. */
  readonly lowest: number;
  readonly highest: number;
  /** bar/min, what the doubt about a slower settling adds (in squares) to `standardError`; 0 where there is none. */
  readonly hidden: number;
  /** False where a straight line explains the window as well: then `settling` is 0 and `timeConstant` means nothing. */
  readonly settlingSeen: boolean;
  /** s, the first bin used: the best curve is level + slope u + settling exp(-u/timeConstant), u = t - origin. */
  readonly origin: number;
  /** s, the last bin used. */
  readonly end: number;
  /** a of the best curve, bar. */
  readonly level: number;
  /** b of the best curve, bar/s; -60 b is `leakRate` except where tau is in doubt. */
  readonly slope: number;
  /** c of the best curve, bar. */
  readonly settling: number;
  /** tau of the best curve, s. */
  readonly timeConstant: number;
  /** bar, noise of a bin times the root of its count: that of a sample, if samples in a bin are independent. */
  readonly noise: number;
  /** Correlation of the noise of neighbouring bins, -0.3 to below 1. */
  readonly correlation: number;
  /** Is one exponential enough? */
  readonly lackOfFit: LackOfFit;
  /** Weighted sum of squared residuals of the best curve, bar^2. */
  readonly rss: number;
  /** Bins used. */
  readonly n: number;
  /** Bins left out as wild. */
  readonly wild: number;
  /** Degrees of freedom of the interval: n - 4, fewer where the noise is correlated and little known. */
  readonly dof: number;
}

/** Fewest bins that four unknowns are fitted to. */
export const fewestBins = 8;

const z95 = 1.959963984540054;

/**
 * Fits the decay to binned pressures; wild bins are left out.
 * @returns `null` where fewer than 8 usable bins are there
 */
export function fitDecay(bins: Bins, options: DecayOptions = {}): DecayFit | null {
  return fitColumns(usableColumns(bins), options);
}

/**
 * `fitDecay` on columns.
 * @param tame their `plainFit`, where it has been made already
 */
export function fitColumns(all: Columns, options: DecayOptions, tame: PlainFit | null = null): DecayFit | null {
  if (all.time.length < fewestBins) return null;
  const plain = tame ?? plainFit(all, options);
  return { ...weighedFit(plain, options), wild: all.time.length - plain.window.n };
}

/** A window without wild bins and its fit by plain least squares. */
export interface PlainFit {
  readonly window: FitWindow;
  readonly profile: DecayProfile;
  readonly search: TauSearch;
}

/** Plain least squares, again without the wild bins as many times as it takes, at most four. */
export function plainFit(all: Columns, range: TauRange): PlainFit {
  let columns = all;
  for (let round = 0; ; round++) {
    const window = new FitWindow(columns, range);
    window.whitener.shape(whiteNoise);
    const profile = window.profile([window.ones, window.time]);
    const search = searchTau(profile, window.tauMin, window.tauMax, window.n - 4);
    const { tau, amplitude } = search.best;
    const keep = tamePlaces(residualsOf(window, profile.coefficients(tau, amplitude), amplitude, tau), columns.weight);
    if (round === 4 || keep === null || keep.length < fewestBins) return { window, profile, search };
    columns = pickColumns(columns, keep);
  }
}

/** The fit with its noise weighed: correlated errors whitened, doubts added up. */
function weighedFit({ window, profile, search }: PlainFit, { resolution = 0, slowerSettling = 0 }: DecayOptions): Omit<DecayFit, 'wild'> {
  const { n, time, pressure, weight, whitener, span, count } = window;
  let { best, points } = search;
  let noise = estimateNoise(whitener, [window.ones, ...window.exponentialPlane(best.tau), time], pressure, count);
  for (let round = 0; round < 2; round++) {
    profile.prepare();
    const before = best.tau;
    ({ best, points } = searchTau(profile, window.tauMin, window.tauMax, n - 4));
    if (Math.abs(Math.log(best.tau / before)) < 0.02) break;
    noise = estimateNoise(whitener, [window.ones, ...window.exponentialPlane(best.tau), time], pressure, count);
  }

  const variance = Math.max(best.rss / (n - 4), window.leastVariance());
  const mixture = mixSlopes(profile, points, variance, span);
  const settlingSeen = mixture.straight < 0.05;
  const settling = settlingSeen ? best.amplitude : 0;
  const line = profile.coefficients(best.tau, settling);
  const residuals = residualsOf(window, line, settling, best.tau);
  let rss = 0;
  for (let i = 0; i < n; i++) rss += (weight[i] as number) * (residuals[i] as number) ** 2;

  const stretch = (studentQuantile(0.975, noise.dof) / z95) * Math.sqrt(noise.inflation);
  // Doubt about tau lengthens the arm on which an error of the steps works, as it does for noise.
  const lengthened = mixture.halfWidth / (z95 * profile.slopeScale * Math.sqrt(variance));
  // However the arm is lengthened: a loss that shows as no more than a step at either end is no larger than that.
  const steps = Math.min(lengthened * resolutionError(resolution, residuals, weight, mixture.slope, span), resolution / span);
  const reach = (width: number): number => 60 * Math.hypot(width * stretch, z95 * steps);
  return {
    ...atMost(
      rateOf(mixture, slowerSettling > 0 ? withSlowerSettling(window, variance, slowerSettling) : null, reach),
      Math.sqrt(variance) < coarse * resolution ? 60 * mostLost(window, variance * noise.inflation, resolution) : Infinity,
    ),
    settlingSeen,
    origin: window.origin,
    end: window.origin + span,
    level: (line[0] as number) + window.base,
    slope: line[1] as number,
    settling,
    timeConstant: best.tau,
    noise: Math.sqrt(variance),
    correlation: noise.correlation,
    lackOfFit: lackOfFit(window, best.tau, noise.place),
    rss,
    n,
    dof: noise.dof,
  };
}

/**
 * The rate with its interval.
 * @param one what is known where one exponential is all there is
 * @param slower what is known where a slower one may hide
 * @param reach bar/min for a width in bar/s, all other doubts added
 */
function rateOf(one: SlopeMixture, slower: SlopeAnswers | null, reach: (width: number) => number): Rate {
  const alone = reach(one.halfWidth);
  const leakRate = -60 * (slower?.quantile(0.5) ?? one.slope);
  if (slower === null) return { leakRate, standardError: alone / z95, halfWidth: alone, lowest: leakRate - alone, highest: leakRate + alone, hidden: 0 };
  const slope = leakRate / -60;
  const halfWidth = reach(slower.reachAround(slope, 0.95));
  return {
    leakRate,
    standardError: halfWidth / z95,
    halfWidth,
    lowest: leakRate - reach(slower.quantile(0.975) - slope),
    highest: leakRate + reach(slope - slower.quantile(0.025)),
    hidden: Math.sqrt(Math.max(0, halfWidth ** 2 - alone ** 2)) / z95,
  };
}

/** Noise of a sample as a share of the step below which the steps hide the shape of the course. */
const coarse = 0.6;

/**
 * Where steps hide the shape, what was lost in all bounds the leak: what settles adds to it as a rule. Not where the course
 * says otherwise (pressure that recovers after it was let down), nor where the readings are fine enough to show the shape.
 */
const atMost = (rate: Rate, most: number): Rate => (rate.leakRate < most ? { ...rate, highest: Math.min(rate.highest, most) } : rate);

/** bar/s: loss from the first twentieth of the window to the last, at most, for the noise and the steps of the reading. */
function mostLost({ n, time, pressure, weight }: FitWindow, variance: number, resolution: number): number {
  const few = Math.max(3, Math.round(n / 20));
  const meanOf = (from: number) => {
    let [w, t, p] = [0, 0, 0];
    for (let i = from; i < from + few; i++) {
      const g = weight[i] as number;
      [w, t, p] = [w + g, t + g * (time[i] as number), p + g * (pressure[i] as number)];
    }
    return { time: t / w, pressure: p / w, variance: variance / w };
  };
  const [first, last] = [meanOf(0), meanOf(n - few)];
  return (first.pressure - last.pressure + resolution + 4 * Math.sqrt(first.variance + last.variance)) / (last.time - first.time);
}

type Rate = Pick<DecayFit, 'leakRate' | 'standardError' | 'halfWidth' | 'lowest' | 'highest' | 'hidden'>;

/** Pressures less the curve, bar. */
export function residualsOf(window: FitWindow, line: Float64Array, settling: number, tau: number): Float64Array {
  const level = line[0] as number;
  const slope = line[1] as number;
  return window.time.map((t, i) => (window.pressure[i] as number) - level - slope * t - settling * Math.exp(-t / tau));
}
