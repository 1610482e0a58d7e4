import { capacity, curveSlots, type SettlingState } from './slots.js';

export interface HoldStartSettings {
  /** s, over which the slope is taken */ readonly settleWindow: number;
  /** bar/s */ readonly settleSlope: number;
  /** s without a stroke before the hold may begin */ readonly quietTime: number;
}

/** Time constants tried, as shares of the stretch: evenly on a logarithmic scale, each 1.3 times the one before. */
const shares = Array.from({ length: 18 }, (_, k) => 0.03 * (2 / 0.03) ** (k / 17));
const tried = shares.length;
/** s between the moments looked at; between two of them the crossing is taken on a line. */
const pace = 0.1;
/** Median distances from the curve beyond which a slot is left out. */
const outlying = 6;
/** Fewest slots for a curve of six unknowns. */
const fewest = 30;

const time = new Float64Array(curveSlots), mean = new Float64Array(curveSlots), weight = new Float64Array(curveSlots);
const columns = shares.map(() => new Float64Array(curveSlots));
/** Of each column made orthogonal to 1 and t: what was taken off for t, and its product with the pressure. */
const onTime = new Float64Array(tried), onPressure = new Float64Array(tried);
const products = shares.map(() => new Float64Array(tried));

/**
 * When settling was over, seen from some seconds later: the first moment (s) at which the slope over the window before
 * it is within the limit on a smooth curve a + b t + c exp(-t/tau) + d exp(-t/tau') through all readings since the last
 * pumping, those after that moment too. At the time itself the window lies at the very end of the readings, where noise
 * moves any curve most.
 * @param since s, end of the last pumping; @param earliest s, no start before it is looked for; @param to s, newest reading that is looked at; @param until s, latest start
 * @returns `null` where there are too few readings or the curve does not come down to the limit
 */
export function holdStartSeenLater(s: SettlingState, set: HoldStartSettings, since: number, earliest: number, to: number, until: number): number | null {
  const n = gather(s, since + 1, to);
  if (n < fewest) return null;
  const length = (time[n - 1] as number) - (time[0] as number);
  let curve = fitted(n, length);
  if (curve !== null && leaveOut(n, curve)) curve = fitted(n, length);
  if (curve === null) return null;
  const t0 = (time[0] as number) + to;
  const slope = (at: number): number => Math.abs(slopeOver(curve, at - t0 - set.settleWindow, at - t0));
  const from = Math.max(earliest, since + set.quietTime);
  let before = slope(from);
  if (before <= set.settleSlope) return from;
  for (let at = from + pace; at <= until; at += pace) {
    const now = slope(at);
    if (now <= set.settleSlope) return at - (pace * (set.settleSlope - now)) / (before - now);
    before = now;
  }
  return null;
}

/** Slots in (from, to], oldest first, times from `to`. */
function gather(s: SettlingState, from: number, to: number): number {
  let first = Math.min(s.size, curveSlots);
  while (first > 0 && (s.time[(s.head - first + capacity) % capacity] as number) <= from) first--;
  let n = 0;
  const base = s.mean[(s.head - first + capacity) % capacity] as number;
  for (let back = first; back >= 1; back--) {
    const i = (s.head - back + capacity) % capacity;
    if ((s.time[i] as number) > to) break;
    if (s.weight[i] === 0) continue;
    time[n] = (s.time[i] as number) - to;
    mean[n] = (s.mean[i] as number) - base;
    weight[n] = s.weight[i] as number;
    n++;
  }
  return n;
}

/** Slope of the straight part (bar/s), and the decays: time from the first slot. */
interface Curve {
  readonly slope: number;
  readonly decays: readonly { readonly tau: number; readonly height: number }[];
}

/** The two time constants of the grid, and their heights, that leave least. */
function fitted(n: number, length: number): Curve | null {
  let w = 0, tMean = 0, pMean = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number;
    w += g;
    tMean += g * (time[i] as number);
    pMean += g * (mean[i] as number);
  }
  tMean /= w;
  pMean /= w;
  let tt = 0, tp = 0;
  for (let i = 0; i < n; i++) {
    const g = weight[i] as number, t = (time[i] as number) - tMean;
    tt += g * t * t;
    tp += g * t * ((mean[i] as number) - pMean);
  }
  if (!(tt > 0)) return null;
  const line = tp / tt;
  shares.forEach((share, k) => decay(k, share * length, n, w, tMean, pMean, tt, line));
  let gain = 0, chosen: Curve | null = null;
  for (let j = 0; j < tried; j++) {
    for (let k = j + 2; k < tried; k++) {
      const jj = products[j]?.[j] as number, kk = products[k]?.[k] as number, jk = products[j]?.[k] as number;
      const determinant = jj * kk - jk * jk;
      if (!(determinant > 1e-10 * jj * kk)) continue;
      const pj = onPressure[j] as number, pk = onPressure[k] as number;
      const c = (pj * kk - pk * jk) / determinant, d = (pk * jj - pj * jk) / determinant;
      const explained = c * pj + d * pk;
      // Settling only ever falls; a fall that grows is a leak that has begun, and no curve for this.
      if (c < 0 || d < 0 || !(explained > gain)) continue;
      gain = explained;
      chosen = {
        slope: line - c * (onTime[j] as number) - d * (onTime[k] as number),
        decays: [{ tau: (shares[j] as number) * length, height: c }, { tau: (shares[k] as number) * length, height: d }],
      };
    }
  }
  return chosen;
}

const left = new Float64Array(curveSlots), sorted = new Float64Array(curveSlots);

/** Slots far off the curve (a spike lies in them) lose their weight. @returns whether there were any */
function leaveOut(n: number, { slope, decays }: Curve): boolean {
  let w = 0, offset = 0;
  for (let i = 0; i < n; i++) {
    const t = (time[i] as number) - (time[0] as number);
    let p = slope * t;
    for (const { tau, height } of decays) p += height * Math.exp(-t / tau);
    left[i] = (mean[i] as number) - p;
    w += weight[i] as number;
    offset += (weight[i] as number) * (left[i] as number);
  }
  offset /= w;
  for (let i = 0; i < n; i++) sorted[i] = Math.abs((left[i] as number) - offset);
  const usual = sorted.subarray(0, n).sort()[n >> 1] as number;
  let any = false;
  for (let i = 0; i < n; i++) {
    if (Math.abs((left[i] as number) - offset) <= outlying * usual) continue;
    weight[i] = 0;
    any = true;
  }
  return any;
}

/** Fills column `k` with a decay, orthogonal to 1 and t, and its products with the pressure and the columns before it. */
function decay(k: number, tau: number, n: number, w: number, tMean: number, pMean: number, tt: number, line: number): void {
  const column = columns[k] as Float64Array;
  const start = time[0] as number;
  let e0 = 0, te = 0;
  for (let i = 0; i < n; i++) {
    const e = Math.exp(-((time[i] as number) - start) / tau);
    column[i] = e;
    e0 += (weight[i] as number) * e;
    te += (weight[i] as number) * ((time[i] as number) - tMean) * e;
  }
  e0 /= w;
  const share = te / tt;
  onTime[k] = share;
  let ep = 0;
  for (let i = 0; i < n; i++) {
    const t = (time[i] as number) - tMean;
    const e = (column[i] as number) - e0 - share * t;
    column[i] = e;
    ep += (weight[i] as number) * e * ((mean[i] as number) - pMean - line * t);
  }
  onPressure[k] = ep;
  for (let j = 0; j <= k; j++) {
    const other = columns[j] as Float64Array;
    let sum = 0;
    for (let i = 0; i < n; i++) sum += (weight[i] as number) * (column[i] as number) * (other[i] as number);
    (products[j] as Float64Array)[k] = sum;
  }
}

/** Least-squares slope (bar/s) of the curve over a window, times from the first slot. */
function slopeOver({ slope, decays }: Curve, from: number, to: number): number {
  const half = (to - from) / 2;
  return decays.reduce((sum, { tau, height }) => {
    const x = half / tau;
    // Of a window of half length h: 3 / (2 h^3) times the integral of u exp(-u/tau), u from its middle; the bracket is x^3/3 where x is small.
    const bracket = x < 1e-3 ? x ** 3 / 3 : x * Math.cosh(x) - Math.sinh(x);
    return sum - (3 * height * tau * tau * bracket * Math.exp(-(from + half) / tau)) / half ** 3;
  }, slope);
}
