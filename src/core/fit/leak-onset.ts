/** A leak that sets in during the hold: the fit with a bend, a + b t + d max(0, t - tk) + c exp(-t/tau). */
import { type Bins, usableColumns } from './bins.js';
import { plainFit } from './decay.js';
import { bendColumn, noBendToSee } from './bend-screen.js';
import type { FitWindow, TauRange } from './fit-window.js';
import { estimateNoise, likeliestNoise } from './noise-estimate.js';
import { dot, orthonormal, project } from './orthogonal.js';
import { mixSlopes } from './slope-mixture.js';
import { studentCdf, studentQuantile } from './student-t.js';
import { settlingTerms } from './settling-terms.js';
import { searchTau } from './tau-search.js';

/** A bend downward that no settling explains. */
export interface LeakOnset {
  /** s, when the loss grew. */
  readonly at: number;
  /** s, standard uncertainty of `at`. */
  readonly atUncertainty: number;
  /** bar/min lost from then on, positive. */
  readonly leakRate: number;
  /** bar/min: `leakRate` +- 1.96 of it is the 95 % interval, given the onset. */
  readonly standardError: number;
  /** bar/min lost before: uncertain where the pressure was still settling. */
  readonly leakRateBefore: number;
  /** bar/min by which the loss grew at once, positive; better known than either rate. */
  readonly growth: number;
  /** bar/min */ readonly growthError: number;
  /** Probability of so clear a bend at one given time by chance; accepted below `bendChance`. */
  readonly chance: number;
}

/**
 * Largest chance, at a single time, that is taken for a bend. Small because many times are tried: calibrated by
 * simulation to less than one false alarm in 1000 holds on white and AR(1) noise and on settling with two time constants.
 */
export const bendChance = 1e-6;

/** The same for a first look, whose settling takes part of the bend for itself. */
const firstChance = 0.02;

/** Places tried, and the share of the window at either end where a bend cannot be told from noise. */
const places = 48;
const margin = 0.06;

/** Fewest bins that a bend is looked for in. */
const fewest = 40;

/**
 * Looks for the time at which a leak set in.
 * @returns `null` where there is none that is plain beyond doubt, or fewer than 40 usable bins
 */
export function findLeakOnset(bins: Bins, range: TauRange = {}): LeakOnset | null {
  const all = usableColumns(bins);
  if (all.time.length < fewest) return null;
  const { window, search } = plainFit(all, range);
  const line = [window.ones, window.time];
  if (noBendToSee(window, [...line, ...window.exponentialPlane(search.best.tau)])) return null;
  // The noise is estimated with the best bend in the model, or a plain bend would pass for correlated noise; and so are
  // the time constants, or they would take part of the bend for themselves.
  const alone = settlingTerms(window, []);
  if (alone.length > 1 && noBendToSee(window, settledColumns(window, alone))) return null;
  const rough = scan(window, { bend: null, taus: alone });
  if (rough === null) return null;
  const first = scan(window, { bend: bendColumn(window, rough.at), taus: alone });
  if (first === null || !(chanceOf(first, first.gain) < firstChance)) return null;
  const bend = bendColumn(window, first.at);
  const second = scan(window, { bend, taus: settlingTerms(window, [bend], alone.length) });
  if (second === null) return null;
  // Settling can look like other settling with a bend: what counts is the gain over the best settling without one.
  const chance = chanceOf(second, Math.min(second.gain, settledAlone(window, alone) - second.rss));
  if (!(chance < bendChance)) return null;
  return describe(window, second, chance);
}

interface Bend {
  /** s from the window's start. */ readonly at: number;
  readonly spread: number;
  readonly taus: readonly number[];
  /** bar/s by which the slope falls. */ readonly size: number;
  /** Whitened sum of squared residuals with it, and by how much it is less than without. */
  readonly rss: number;
  readonly gain: number;
  /** Of the whitened errors, what not knowing the noise adds. */
  readonly variance: number;
  readonly dof: number;
}

/** Probability that noise at one given time makes a gain as large as this. */
const chanceOf = ({ variance, dof }: Bend, gain: number): number => studentCdf(-Math.sqrt(Math.max(0, gain) / variance), dof);

/** The clearest bend next to exponentials with these time constants; the noise is estimated with `bend` in the model. */
function scan(window: FitWindow, { bend, taus }: { bend: Float64Array | null; taus: readonly number[] }): Bend | null {
  const { n, span, pressure, whitener, count } = window;
  const settling = orthonormal(settledColumns(window, taus));
  // A rough look only finds the place: the likeliest noise will do.
  const noise = bend === null ? roughNoise(window, settling) : estimateNoise(whitener, [...settling, bend], pressure, count);

  const basis = settling.map((column) => {
    const whitened = new Float64Array(n);
    whitener.whiten(column, whitened);
    return whitened;
  });
  const q = orthonormal(basis);
  const rest = new Float64Array(n);
  whitener.whiten(pressure, rest);
  for (const column of q) project(column, rest);
  const rss = dot(rest, rest);
  const dof = n - q.length - 1;
  if (!(rss > 0) || dof < 4) return null;

  const column = new Float64Array(n);
  const tried: { at: number; gain: number }[] = [];
  let best = { at: 0, gain: 0, size: 0 };
  let upward = 0;
  const look = (at: number): void => {
    whitener.whiten(bendColumn(window, at), column);
    const whole = dot(column, column);
    for (const direction of q) project(direction, column);
    const information = dot(column, column);
    if (!(information > 1e-9 * whole)) return;
    const along = dot(column, rest);
    const gain = (along * along) / information;
    if (along > 0) upward = Math.max(upward, gain);
    const found = { at, gain: along < 0 ? gain : 0, size: -along / information };
    tried.push(found);
    if (found.gain > best.gain) best = found;
  };
  const step = ((1 - 2 * margin) * span) / (places - 1);
  for (let k = 0; k < places; k++) look(margin * span + k * step);
  const centre = best.at;
  for (let k = -4; k <= 4; k++) if (k !== 0) look(Math.min(Math.max(centre + (k * step) / 5, margin * span), (1 - margin) * span));
  // A bend upward leaves two shallow ones downward beside it.
  if (!(best.gain > upward)) return null;

  const variance = Math.max((rss - best.gain) / dof, window.leastVariance());
  let weights = 0;
  let mean = 0;
  let square = 0;
  tried.sort((a, b) => a.at - b.at);
  tried.forEach((place, i) => {
    const measure = ((tried[i + 1] ?? place).at - (tried[i - 1] ?? place).at) / 2;
    const weight = measure * Math.exp((place.gain - best.gain) / (2 * variance));
    weights += weight;
    mean += weight * place.at;
    square += weight * place.at * place.at;
  });
  mean /= weights;
  return {
    at: best.at,
    size: best.size,
    taus,
    spread: Math.sqrt(Math.max(0, square / weights - mean * mean) + (step / 5) ** 2 / 12),
    rss: rss - best.gain,
    gain: best.gain,
    variance: variance * noise.inflation,
    dof: Math.min(dof, noise.dof),
  };
}

/** Settling with these time constants (s), made linear around them, and a straight line. */
const settledColumns = (window: FitWindow, taus: readonly number[]): Float64Array[] =>
  [window.ones, window.time, ...taus.flatMap((tau) => window.exponentialPlane(tau)), ...spareTerms(window, taus)];

function roughNoise({ n, whitener, pressure, count }: FitWindow, columns: readonly Float64Array[]): { inflation: number; dof: number } {
  likeliestNoise(whitener, columns, pressure, count, { z: Infinity, whiteShare: 0 });
  return { inflation: 1, dof: n - columns.length };
}

/**
 * More exponentials, where one has been found too few: real creep is no sum of two or three, and what is left of it must
 * not pass for a bend.
 */
function spareTerms(window: FitWindow, taus: readonly number[]): Float64Array[] {
  if (taus.length < 2) return [];
  const sorted = [...taus].sort((a, b) => a - b);
  const between = sorted.slice(1).map((tau, i) => Math.sqrt(tau * (sorted[i] as number)));
  return [(sorted[0] as number) / 2.5, ...between, (sorted[sorted.length - 1] as number) * 2.5].map((tau) => window.exponential(tau));
}

/** Whitened sum of squared residuals of settling alone, its slowest term fitted again under the noise now in the whitener. */
function settledAlone(window: FitWindow, taus: readonly number[]): number {
  const [, ...others] = [...taus].sort((a, b) => b - a);
  const linear = [window.ones, ...spareTerms(window, taus), ...others.flatMap((tau) => window.exponentialPlane(tau)), window.time];
  return searchTau(window.profile(orthonormal(linear)), window.tauMin, window.tauMax, window.n - linear.length - 2).best.rss;
}

function describe(window: FitWindow, { at, spread, size, gain, variance }: Bend, chance: number): LeakOnset {
  const { n, time, pressure, whitener, ones, count, tauMin, tauMax, span } = window;
  const before = time.map((t) => Math.min(t, at));
  const after = bendColumn(window, at);
  const [slowest, ...others] = settlingTerms(window, [after]).sort((a, b) => b - a);
  const quick = others.flatMap((tau) => window.exponentialPlane(tau));
  const noise = estimateNoise(whitener, [ones, before, ...quick, ...window.exponentialPlane(slowest as number), after], pressure, count);
  const profile = window.profile([ones, before, ...quick, after]);
  const { best, points } = searchTau(profile, tauMin, tauMax, n - 5);
  const mixture = mixSlopes(profile, points, Math.max(best.rss / (n - 5), window.leastVariance()), span);
  const stretch = (studentQuantile(0.975, noise.dof) / 1.959963984540054) * Math.sqrt(noise.inflation);
  return {
    at: window.origin + at,
    atUncertainty: spread,
    leakRate: -60 * mixture.slope,
    standardError: (60 * mixture.halfWidth * stretch) / 1.959963984540054,
    leakRateBefore: -60 * (profile.coefficients(best.tau, mixture.straight < 0.05 ? best.amplitude : 0)[1] as number),
    growth: 60 * size,
    growthError: 60 * size * Math.sqrt(variance / gain),
    chance,
  };
}
