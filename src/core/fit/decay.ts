/** The leak fit p(t) = a + b t + c exp(-t/tau): what is lost steadily (b) apart from what settles (c, tau). */
import { Whitener, whiteNoise } from './correlated-noise.js';
import { DecayProfile, type ProfilePoint } from './decay-profile.js';
import { estimateNoise } from './noise-estimate.js';
import { robustSigma, median } from './statistics.js';
import { mixtureOf } from './slope-mixture.js';

/** Means of neighbouring samples, in ascending time, at most about 600 of them. Equal lengths. */
export interface Bins {
  /** Mean time of the samples in the bin, s. */
  readonly time: ArrayLike<number>;
  /** Their mean pressure, bar. */
  readonly pressure: ArrayLike<number>;
  /** Their number; a bin with 0 is left out. All 1 when absent. */
  readonly weight?: ArrayLike<number>;
}

export interface DecayOptions {
  /** s, shortest settling looked for; default twice the bin spacing. */
  readonly tauMin?: number;
  /** s, longest settling looked for: what is slower counts as leak; default 120 s or the length of the window. */
  readonly tauMax?: number;
}

export interface DecayFit {
  /** bar/min, positive when pressure is lost: -60 b. */
  readonly leakRate: number;
  /** bar/min; `leakRate` +- 1.96 standard errors holds the true rate in 95 % of fits (t and tau's doubt included). */
  readonly standardError: number;
  /** bar/min, half width of the 95 % interval: 1.96 standard errors. */
  readonly halfWidth: number;
  /** s, the time that `level` and `settling` refer to: the first bin used. */
  readonly origin: number;
  /** a, bar */ readonly level: number;
  /** b, bar/s */ readonly slope: number;
  /** c, bar: what was still to settle at `origin`; 0 where no settling can be seen. */
  readonly settling: number;
  /** tau, s: the most likely one, of no meaning where `settlingSeen` is false. */
  readonly timeConstant: number;
  /** False where a straight line explains the window just as well. */
  readonly settlingSeen: boolean;
  /** bar, standard deviation of a single sample if samples are independent within bins. */
  readonly noise: number;
  /** Correlation of neighbouring bins' noise, 0 or more. */
  readonly correlation: number;
  /** Weighted sum of squared residuals, bar^2. */
  readonly rss: number;
  /** Bins used; those left out as wild. */
  readonly n: number;
  readonly wild: number;
  readonly dof: number;
  /** s, first and last bin used. */
  readonly from: number;
  readonly to: number;
}

/** Fewest bins that a fit of four unknowns is tried on. */
export const fewestBins = 8;

/**
 * Fits the decay to binned pressures.
 * @returns `null` where fewer than 8 usable bins are there, or they span no time
 */
export function fitDecay(bins: Bins, options: DecayOptions = {}): DecayFit | null {
  const columns = usable(bins);
  let fit = fitOnce(columns, options);
  if (fit === null) return null;
  let wild = 0;
  for (let round = 0; round < 4; round++) {
    const keep = tame(columns, fit.residuals);
    if (keep === null) break;
    wild += columns.time.length - keep.length;
    columns.time = pick(columns.time, keep);
    columns.pressure = pick(columns.pressure, keep);
    columns.weight = pick(columns.weight, keep);
    const again = fitOnce(columns, options);
    if (again === null) break;
    fit = again;
  }
  return { ...fit.found, wild };
}

interface Columns {
  time: Float64Array;
  pressure: Float64Array;
  weight: Float64Array;
}

const pick = (values: Float64Array, keep: readonly number[]): Float64Array =>
  Float64Array.from(keep, (i) => values[i] as number);

function usable(bins: Bins): Columns {
  const keep: number[] = [];
  let last = -Infinity;
  for (let i = 0; i < bins.time.length; i++) {
    const t = bins.time[i] as number;
    const weight = bins.weight === undefined ? 1 : (bins.weight[i] as number);
    if (t > last && Number.isFinite(t) && Number.isFinite(bins.pressure[i]) && weight > 0 && Number.isFinite(weight)) {
      keep.push(i);
      last = t;
    }
  }
  return {
    time: Float64Array.from(keep, (i) => bins.time[i] as number),
    pressure: Float64Array.from(keep, (i) => bins.pressure[i] as number),
    weight: Float64Array.from(keep, (i) => (bins.weight === undefined ? 1 : (bins.weight[i] as number))),
  };
}

/** The bins that are not wild, or `null` when none is. Wild: beyond 5 sigma by the MAD, once in 2 million normal bins. */
function tame(columns: Columns, residuals: Float64Array): number[] | null {
  const scaled = residuals.map((r, i) => r * Math.sqrt(columns.weight[i] as number));
  const limit = 5 * robustSigma(scaled, 0);
  if (!(limit > 0)) return null;
  const keep: number[] = [];
  scaled.forEach((r, i) => {
    if (Math.abs(r) <= limit) keep.push(i);
  });
  return keep.length === scaled.length || keep.length < fewestBins ? null : keep;
}

function fitOnce(columns: Columns, options: DecayOptions): { found: Omit<DecayFit, 'wild'>; residuals: Float64Array } | null {
  const n = columns.time.length;
  const origin = columns.time[0] as number;
  const span = (columns.time[n - 1] as number) - origin;
  if (n < fewestBins || !(span > 0)) return null;
  const time = columns.time.map((t) => t - origin);
  const base = median(columns.pressure);
  const pressure = columns.pressure.map((p) => p - base);
  const spacing = median(Float64Array.from({ length: n - 1 }, (_, i) => (time[i + 1] as number) - (time[i] as number)));
  const count = Math.max(1, median(columns.weight));
  const tauMin = options.tauMin ?? 2 * spacing;
  const tauMax = Math.max(options.tauMax ?? Math.max(120, span), 2 * tauMin);

  const whitener = new Whitener(time, columns.weight, spacing);
  const profile = new DecayProfile(time, pressure, whitener);
  whitener.shape(whiteNoise);
  let points = search(profile, tauMin, tauMax);
  let best = lowest(points);
  let shape = whiteNoise;
  for (let round = 0; round < 2; round++) {
    shape = estimateNoise(whitener, tangents(time, best.tau), pressure, count);
    points = search(profile, tauMin, tauMax);
    best = lowest(points);
    if (shape.decay === 0) break;
  }

  const dof = n - 4;
  const variance = best.rss / dof;
  const mixture = mixtureOf(profile, points, variance, dof, span);
  const { slope, level } = profile.line(best.tau, mixture.amplitude);
  const residuals = new Float64Array(n);
  let rss = 0;
  for (let i = 0; i < n; i++) {
    const t = time[i] as number;
    const r = (pressure[i] as number) - level - slope * t - mixture.amplitude * Math.exp(-t / best.tau);
    residuals[i] = r;
    rss += (columns.weight[i] as number) * r * r;
  }
  return {
    residuals,
    found: {
      leakRate: -60 * mixture.slope,
      standardError: (60 * mixture.halfWidth) / 1.959963984540054,
      halfWidth: 60 * mixture.halfWidth,
      origin,
      level: level + base,
      slope: mixture.slope,
      settling: mixture.amplitude,
      timeConstant: best.tau,
      settlingSeen: mixture.settlingSeen,
      noise: Math.sqrt(rss / dof),
      correlation: shape.decay * shape.strength,
      rss,
      n,
      dof,
      from: origin,
      to: origin + span,
    },
  };
}

/** Columns of the model made linear around tau. */
function tangents(time: Float64Array, tau: number): Float64Array[] {
  return [time.map(() => 1), time, time.map((t) => Math.exp(-t / tau)), time.map((t) => (t / tau) * Math.exp(-t / tau))];
}

const lowest = (points: readonly ProfilePoint[]): ProfilePoint => points.reduce((a, b) => (b.rss < a.rss ? b : a));

/** Looks over tau on an even grid of its logarithm, then narrows around the best point; all points seen, by tau. */
function search(profile: DecayProfile, tauMin: number, tauMax: number): ProfilePoint[] {
  profile.prepare();
  const steps = 24;
  const factor = (tauMax / tauMin) ** (1 / steps);
  const points: ProfilePoint[] = [];
  for (let k = 0; k <= steps; k++) points.push(profile.at(tauMin * factor ** k));
  const at = points.indexOf(lowest(points));
  let low = Math.log((points[Math.max(0, at - 1)] as ProfilePoint).tau);
  let high = Math.log((points[Math.min(steps, at + 1)] as ProfilePoint).tau);
  const ratio = (Math.sqrt(5) - 1) / 2;
  let left = profile.at(Math.exp(high - ratio * (high - low)));
  let right = profile.at(Math.exp(low + ratio * (high - low)));
  for (let step = 0; step < 22; step++) {
    points.push(left.rss < right.rss ? right : left);
    if (left.rss < right.rss) {
      high = Math.log(right.tau);
      right = left;
      left = profile.at(Math.exp(high - ratio * (high - low)));
    } else {
      low = Math.log(left.tau);
      left = right;
      right = profile.at(Math.exp(low + ratio * (high - low)));
    }
  }
  points.push(left, right);
  const best = lowest(points);
  // Points across the peak of the likelihood, so that its width can be summed up.
  const width = widthOf(profile, best);
  if (width < Math.log(factor)) {
    for (let k = -9; k <= 9; k++) if (k !== 0) points.push(profile.at(best.tau * Math.exp((k * width) / 2)));
  }
  return points.filter((p) => p.tau >= tauMin * 0.999 && p.tau <= tauMax * 1.001).sort((a, b) => a.tau - b.tau);
}

/** Standard deviation of log tau from the curvature of the profile at its lowest point. */
function widthOf(profile: DecayProfile, best: ProfilePoint): number {
  const step = 1e-3;
  const up = profile.at(best.tau * Math.exp(step));
  const down = profile.at(best.tau * Math.exp(-step));
  const curvature = (up.rss + down.rss - 2 * best.rss) / (step * step);
  const n = profile.size - 4;
  return curvature > 0 ? Math.sqrt((2 * best.rss) / (n * curvature)) : Infinity;
}
