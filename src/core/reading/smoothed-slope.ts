import { capacity, type SettlingState } from './settling.js';

/** Time constants that a decay is tried with, as shares of the window looked at. */
const decays = [0.1, 0.15, 0.22, 0.33, 0.5, 0.75, 1.2, 2];

const model = { time: new Float64Array(capacity), mean: new Float64Array(capacity), weight: new Float64Array(capacity), shape: new Float64Array(capacity) };

/**
 * Slope over the last `span` seconds of the curve a + b t + c exp(-t/tau) that fits the slots in (from, to] best;
 * `undefined` where they are too few or too short for that.
 */
export function smoothedSlope(s: SettlingState, from: number, to: number, span: number): number | undefined {
  let n = 0;
  const { time, mean, weight } = model;
  let base = 0;
  for (let back = 1; back <= s.size; back++) {
    const i = (s.head - back + capacity) % capacity;
    const t = s.time[i] as number;
    if (t > to) continue;
    if (t <= from) break;
    if (n === 0) base = s.mean[i] as number;
    time[n] = t - to;
    mean[n] = (s.mean[i] as number) - base;
    weight[n] = s.weight[i] as number;
    n++;
  }
  if (n < 12 || to - from < 1.3 * span) return undefined;
  let least = Number.MAX_VALUE;
  let slope: number | undefined;
  for (const share of decays) {
    const found = decayThrough(n, share * (to - from), span);
    if (found !== undefined && found.rss < least) {
      least = found.rss;
      slope = found.slope;
    }
  }
  return slope;
}

/** Fits a + b t + c exp(-t/tau) to the gathered slots by orthogonalised columns; slope of the curve over the last `span`. */
function decayThrough(n: number, tau: number, span: number): { rss: number; slope: number } | undefined {
  const { time, mean, weight, shape } = model;
  let w = 0, t0 = 0, e0 = 0, p0 = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    const e = Math.exp(-((time[i] as number) - (time[n - 1] as number)) / tau);
    shape[i] = e;
    w += g;
    t0 += g * (time[i] as number);
    e0 += g * e;
    p0 += g * (mean[i] as number);
  }
  t0 /= w;
  e0 /= w;
  p0 /= w;
  let tt = 0, te = 0, tp = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    const t = (time[i] as number) - t0;
    tt += g * t * t;
    te += g * t * ((shape[i] as number) - e0);
    tp += g * t * ((mean[i] as number) - p0);
  }
  if (!(tt > 0)) return undefined;
  let ee = 0, ep = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    const t = (time[i] as number) - t0;
    const e = (shape[i] as number) - e0 - (te / tt) * t;
    ee += g * e * e;
    ep += g * e * ((mean[i] as number) - p0);
  }
  const c = ee > 0 ? ep / ee : 0;
  const b = tp / tt - (c * te) / tt;
  let rss = 0, sw = 0, st = 0, se = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    const r = (mean[i] as number) - p0 - b * ((time[i] as number) - t0) - c * ((shape[i] as number) - e0);
    rss += g * r * r;
    if ((time[i] as number) <= -span) continue;
    sw += g;
    st += g * (time[i] as number);
    se += g * (shape[i] as number);
  }
  let wtt = 0, wte = 0;
  for (let i = 0; i < n && (time[i] as number) > -span; i++) {
    const t = (time[i] as number) - st / sw;
    wtt += (weight[i] as number) * t * t;
    wte += (weight[i] as number) * t * ((shape[i] as number) - se / sw);
  }
  return wtt > 0 ? { rss, slope: b + (c * wte) / wtt } : undefined;
}
