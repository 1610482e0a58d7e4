import { capacity, type SettlingState } from './slots.js';

/** What a curve a + b t + c exp(-t/tau) through a stretch says of the window at its end, bar/s. */
export interface CurveSlope {
  /** Slope of a straight line through the curve over the window, and its standard error. */
  slope: number;
  error: number;
  /** The part of it that is still decaying. */
  decaying: number;
  /** s: time constant of the decay. */
  tau: number;
}

/** Time constants to start from, as shares of the stretch. */
const shares = [0.06, 0.12, 0.25, 0.5, 1, 2];
/** Steps of the search between two neighbours; a step leaves 62 % of the range. */
const refinements = 5;
const golden = 0.6180339887498949;

const work = { time: new Float64Array(capacity), mean: new Float64Array(capacity), weight: new Float64Array(capacity), shape: new Float64Array(capacity) };

/** Numbers of the last fit: one object for all, so that a look allocates nothing. */
const fit = { n: 0, w: 0, t0: 0, p0: 0, tt: 0, tp: 0, pp: 0, e0: 0, te: 0, ee: 0, b: 0, c: 0, rss: 0 };

/**
 * Fits a + b t + c exp(-t/tau) to the slots in (from, to] by least squares, tau by a bounded search, and fills `out`
 * for the last `window` seconds (all times s). False where there are too few slots for it.
 */
export function curveSlope(s: SettlingState, from: number, to: number, window: number, out: CurveSlope): boolean {
  if (!gather(s, from, to)) return false;
  const length = (work.time[0] as number) - (work.time[fit.n - 1] as number);
  let best = 0;
  let least = Infinity;
  for (let k = 0; k < shares.length; k++) {
    const rss = decayWith((shares[k] as number) * length);
    if (rss < least) {
      least = rss;
      best = k;
    }
  }
  let low = Math.log((shares[Math.max(0, best - 1)] as number) * length);
  let high = Math.log((shares[Math.min(shares.length - 1, best + 1)] as number) * length);
  let left = high - golden * (high - low), right = low + golden * (high - low);
  let atLeft = decayWith(Math.exp(left)), atRight = decayWith(Math.exp(right));
  for (let k = 0; k < refinements; k++) {
    if (atLeft < atRight) {
      high = right;
      right = left;
      atRight = atLeft;
      left = high - golden * (high - low);
      atLeft = decayWith(Math.exp(left));
    } else {
      low = left;
      left = right;
      atLeft = atRight;
      right = low + golden * (high - low);
      atRight = decayWith(Math.exp(right));
    }
  }
  const tau = Math.exp(atLeft < atRight ? left : right);
  decayWith(tau);
  return slopeOfCurve(tau, length, window, out);
}

/** Takes the slots in (from, to] out, newest first, times from `to`, and the sums that do not depend on tau. */
function gather(s: SettlingState, from: number, to: number): boolean {
  const { time, mean, weight } = work;
  let n = 0, base = 0, w = 0, t0 = 0, p0 = 0;
  for (let back = 1; back <= s.size; back++) {
    const i = (s.head - back + capacity) % capacity;
    const t = s.time[i] as number;
    if (t > to) continue;
    if (t <= from) break;
    const g = s.weight[i] as number;
    if (g === 0) continue;
    if (n === 0) base = s.mean[i] as number;
    time[n] = t - to;
    mean[n] = (s.mean[i] as number) - base;
    weight[n] = g;
    w += g;
    t0 += g * (t - to);
    p0 += g * (mean[n] as number);
    n++;
  }
  if (n < 12) return false;
  t0 /= w;
  p0 /= w;
  let tt = 0, tp = 0, pp = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    const t = (time[i] as number) - t0, p = (mean[i] as number) - p0;
    tt += g * t * t;
    tp += g * t * p;
    pp += g * p * p;
  }
  fit.n = n; fit.w = w; fit.t0 = t0; fit.p0 = p0; fit.tt = tt; fit.tp = tp; fit.pp = pp;
  return tt > 0;
}

/** Linear part for one tau, by columns made orthogonal one after the other; returns the weighted sum of squares left. */
function decayWith(tau: number): number {
  const { time, mean, weight, shape } = work;
  const { n, t0, p0, tt, tp, pp } = fit;
  // Slots come almost evenly: from one to the next the exponential is multiplied by the same factor and a small correction.
  const even = ((time[0] as number) - (time[n - 1] as number)) / (n - 1);
  const factor = Math.exp(-even / tau);
  let e = 1, before = time[n - 1] as number;
  let e0 = weight[n - 1] as number;
  shape[n - 1] = 1;
  for (let i = n - 2; i >= 0; i--) {
    const t = time[i] as number;
    const x = (even - (t - before)) / tau;
    e *= Math.abs(x) < 0.01 ? factor * (1 + x * (1 + x * (0.5 + x / 6))) : Math.exp((before - t) / tau);
    shape[i] = e;
    e0 += (weight[i] as number) * e;
    before = t;
  }
  e0 /= fit.w;
  let te = 0, ee = 0, ep = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    const d = (shape[i] as number) - e0;
    te += g * ((time[i] as number) - t0) * d;
    ee += g * d * d;
    ep += g * d * ((mean[i] as number) - p0);
  }
  const across = ee - (te * te) / tt;
  const c = across > 1e-12 * ee ? (ep - (te * tp) / tt) / across : 0;
  const b = (tp - c * te) / tt;
  fit.e0 = e0; fit.te = te; fit.ee = across; fit.b = b; fit.c = c;
  fit.rss = Math.max(0, pp - b * tp - c * ep);
  return fit.rss;
}

/** Slope over the last `window` of the curve that was fitted last, with errors that count tau as known only from the fit. */
function slopeOfCurve(tau: number, length: number, window: number, out: CurveSlope): boolean {
  const { time, weight, shape } = work;
  const { n, b, c, t0 } = fit;
  if (n < 5) return false;
  const first = time[n - 1] as number;
  let last = 0;
  while (last < n && (time[last] as number) > -window) last++;
  if (!slopesOver(last, first)) return false;
  const onShape = over.shape, onChange = over.change;
  // The third direction: what a change of tau does to the curve, made orthogonal to the other columns.
  let d0 = 0;
  for (let i = 0; i < n; i++) d0 += (weight[i] as number) * (shape[i] as number) * ((time[i] as number) - first);
  d0 /= fit.w;
  let td = 0, ed = 0, dd = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    const t = (time[i] as number) - t0;
    const d = (shape[i] as number) * ((time[i] as number) - first) - d0;
    td += g * t * d;
    ed += g * ((shape[i] as number) - fit.e0 - (fit.te / fit.tt) * t) * d;
    dd += g * d * d;
  }
  const variance = (fit.rss / (n - 4));
  const left = dd - (td * td) / fit.tt - (fit.ee > 0 ? (ed * ed) / fit.ee : 0);
  // Slope as a sum over the orthogonal columns: 1 for the line, then the shape, then the change with tau.
  const viaShape = onShape - fit.te / fit.tt;
  const viaChange = onChange - td / fit.tt - (fit.ee > 0 ? (ed / fit.ee) * viaShape : 0);
  const useful = left > 1e-9 * dd;
  out.slope = b + c * onShape;
  out.error = Math.sqrt(variance * (1 / fit.tt + (fit.ee > 0 ? (viaShape * viaShape) / fit.ee : 0) + (useful ? (viaChange * viaChange) / left : 0)));
  out.decaying = c * onShape;
  out.tau = tau;
  return Number.isFinite(out.slope) && Number.isFinite(out.error) && length > 0 && tau > 0;
}

/** Slopes of the shape and of its change with tau over a window. */
const over = { shape: 0, change: 0 };

/** Fills `over` for the newest slots, as many as `count`; false where they have no length. */
function slopesOver(count: number, first: number): boolean {
  const { time, weight, shape } = work;
  let sw = 0, st = 0, se = 0, sd = 0;
  for (let i = 0; i < count; i++) {
    const g = weight[i] as number, t = time[i] as number, e = shape[i] as number;
    sw += g;
    st += g * t;
    se += g * e;
    sd += g * e * (t - first);
  }
  let tt = 0, te = 0, td = 0;
  for (let i = 0; i < count; i++) {
    const g = weight[i] as number, t = (time[i] as number) - st / sw, e = shape[i] as number;
    tt += g * t * t;
    te += g * t * (e - se / sw);
    td += g * t * (e * ((time[i] as number) - first) - sd / sw);
  }
  if (!(tt > 0)) return false;
  over.shape = te / tt;
  over.change = td / tt;
  return true;
}
