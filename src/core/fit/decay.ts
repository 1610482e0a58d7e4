/** The leak fit p(t) = a + b t + c exp(-t/tau): what is lost steadily (b) apart from what settles (c, tau). */
import { type Bins, type Columns, pickColumns, tamePlaces, usableColumns } from './bins.js';
import { Whitener, whiteNoise } from './correlated-noise.js';
import { DecayProfile } from './decay-profile.js';
import { type LackOfFit, lackOfFit } from './lack-of-fit.js';
import { estimateNoise } from './noise-estimate.js';
import { resolutionError } from './resolution-error.js';
import { mixSlopes } from './slope-mixture.js';
import { median } from './statistics.js';
import { studentQuantile } from './student-t.js';
import { searchTau } from './tau-search.js';

export interface DecayOptions {
  /** s, shortest settling looked for; default twice the bin spacing. */
  readonly tauMin?: number;
  /** s, longest settling looked for: what is slower counts as leak; default 120 s, or the window where that is longer. */
  readonly tauMax?: number;
  /** bar, smallest step of the readings; 0 where it is not known. Widens the interval where noise does not blur the steps. */
  readonly resolution?: number;
}

/** What the fit found. Rates are positive when pressure is lost. */
export interface DecayFit {
  /** bar/min. */
  readonly leakRate: number;
  /** bar/min: `leakRate` +- 1.96 of it is the 95 % interval, all doubts included. */
  readonly standardError: number;
  /** bar/min, half width of that interval. */
  readonly halfWidth: number;
  /** False where a straight line explains the window as well: then `settling` is 0 and `timeConstant` means nothing. */
  readonly settlingSeen: boolean;
  /** s, the first bin used: the best curve is level + slope u + settling exp(-u/timeConstant), u = t - origin. */
  readonly origin: number;
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
  /** Correlation of the noise of neighbouring bins, 0 or more. */
  readonly correlation: number;
  /** Is one exponential enough? */
  readonly lackOfFit: LackOfFit;
  /** Weighted sum of squared residuals of the best curve, bar^2. */
  readonly rss: number;
  /** Bins used, and bins left out as wild. */
  readonly n: number;
  readonly wild: number;
  /** Degrees of freedom of the interval: n - 4, fewer where the noise is correlated and little known. */
  readonly dof: number;
  /** s, last bin used. */
  readonly end: number;
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

/** `fitDecay` on bins that have been checked. */
export function fitColumns(all: Columns, options: DecayOptions): DecayFit | null {
  let columns = all;
  if (columns.time.length < fewestBins) return null;
  for (let round = 0; round < 4; round++) {
    const keep = tamePlaces(new Window(columns, options).plainResiduals(), columns.weight);
    if (keep === null || keep.length < fewestBins) break;
    columns = pickColumns(columns, keep);
  }
  return { ...new Window(columns, options).fit(options.resolution ?? 0), wild: all.time.length - columns.time.length };
}

/** One window being fitted: its columns, moved to 0, and the machinery over them. */
class Window {
  private readonly origin: number;
  private readonly span: number;
  private readonly base: number;
  private readonly count: number;
  private readonly time: Float64Array;
  private readonly pressure: Float64Array;
  private readonly whitener: Whitener;
  private readonly profile: DecayProfile;
  private readonly tauMin: number;
  private readonly tauMax: number;

  constructor(
    private readonly columns: Columns,
    options: DecayOptions,
  ) {
    const n = columns.time.length;
    const origin = columns.time[0] as number;
    this.origin = origin;
    this.time = columns.time.map((t) => t - origin);
    this.span = this.time[n - 1] as number;
    const base = median(columns.pressure);
    this.base = base;
    this.pressure = columns.pressure.map((p) => p - base);
    const spacing = median(Float64Array.from({ length: n - 1 }, (_, i) => (this.time[i + 1] as number) - (this.time[i] as number)));
    this.count = Math.max(1, median(columns.weight));
    this.tauMin = options.tauMin ?? 2 * spacing;
    this.tauMax = Math.max(options.tauMax ?? Math.max(120, this.span), 2 * this.tauMin);
    this.whitener = new Whitener(this.time, columns.weight, spacing);
    this.profile = new DecayProfile(this.time, this.pressure, [this.time.map(() => 1), this.time], this.whitener);
    this.whitener.shape(whiteNoise);
    this.profile.prepare();
  }

  private search() {
    return searchTau(this.profile, this.tauMin, this.tauMax, this.time.length - 4);
  }

  /** Residuals of plain weighted least squares. */
  plainResiduals(): Float64Array {
    const { best } = this.search();
    return this.residuals(this.profile.coefficients(best.tau, best.amplitude), best.amplitude, best.tau);
  }

  fit(resolution: number): Omit<DecayFit, 'wild'> {
    const { time, pressure, whitener, profile, count, span } = this;
    const n = time.length;
    let { best, points } = this.search();
    let noise = estimateNoise(whitener, tangents(time, best.tau), pressure, count);
    for (let round = 0; round < 2 && noise.shape.decay > 0; round++) {
      profile.prepare();
      const before = best.tau;
      ({ best, points } = this.search());
      if (Math.abs(Math.log(best.tau / before)) < 0.02) break;
      noise = estimateNoise(whitener, tangents(time, best.tau), pressure, count);
    }

    const variance = Math.max(best.rss / (n - 4), floorOf(pressure, this.columns.weight));
    const mixture = mixSlopes(profile, points, variance, span);
    const settlingSeen = mixture.straight < 0.05;
    const settling = settlingSeen ? best.amplitude : 0;
    const line = profile.coefficients(best.tau, settling);
    const residuals = this.residuals(line, settling, best.tau);
    let rss = 0;
    for (let i = 0; i < n; i++) rss += (this.columns.weight[i] as number) * (residuals[i] as number) ** 2;

    const lineHalfWidth = z95 * profile.slopeScale * Math.sqrt(variance);
    const stretch = (studentQuantile(0.975, noise.dof) / z95) * Math.sqrt(noise.inflation);
    const steps = resolutionError(resolution, residuals, this.columns.weight, mixture.slope, span) * (mixture.halfWidth / lineHalfWidth);
    const halfWidth = 60 * Math.hypot(mixture.halfWidth * stretch, z95 * steps);
    return {
      leakRate: -60 * mixture.slope,
      standardError: halfWidth / z95,
      halfWidth,
      settlingSeen,
      origin: this.origin,
      level: (line[0] as number) + this.base,
      slope: line[1] as number,
      settling,
      timeConstant: best.tau,
      noise: Math.sqrt(variance),
      correlation: noise.correlation,
      lackOfFit: lackOfFit(time, pressure, whitener, best.tau, count),
      rss,
      n,
      dof: noise.dof,
      end: this.origin + span,
    };
  }

  private residuals(line: Float64Array, settling: number, tau: number): Float64Array {
    const level = line[0] as number;
    const slope = line[1] as number;
    return this.time.map((t, i) => (this.pressure[i] as number) - level - slope * t - settling * Math.exp(-t / tau));
  }
}

/** Columns of the model made linear around tau, that of the slope last. */
export function tangents(time: Float64Array, tau: number): Float64Array[] {
  const exponential = time.map((t) => Math.exp(-t / tau));
  return [time.map(() => 1), exponential, time.map((t, i) => (t / tau) * (exponential[i] as number)), time];
}

/** Smallest variance that rounding of the arithmetic allows for, so that a perfect curve divides nothing by 0. */
function floorOf(pressure: Float64Array, weight: Float64Array): number {
  let largest = 1e-9;
  for (const p of pressure) largest = Math.max(largest, Math.abs(p));
  return median(weight) * (1e-9 * largest) ** 2;
}
