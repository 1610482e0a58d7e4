import { smoothedSlope } from './smoothed-slope.js';

/**
 * Has the pressure settled? Slopes over trailing windows, taken on short averages ("slots", 1/40 of a window) so that
 * the standard error is honest about noise that lasts for several samples.
 */
export interface SettlingState {
  index: number;
  n: number;
  sumTime: number;
  sum: number;
  base: number;
  first: number;
  /** Ring of closed slots. */
  head: number;
  size: number;
  time: number[];
  mean: number[];
  weight: number[];
}

const perWindow = 40;
/** Slots kept: three windows. */
export const capacity = 3 * perWindow + 4;

export const freshSettling = (): SettlingState => ({
  index: -1, n: 0, sumTime: 0, sum: 0, base: 0, first: 0, head: 0, size: 0,
  time: new Array<number>(capacity).fill(0), mean: new Array<number>(capacity).fill(0), weight: new Array<number>(capacity).fill(0),
});

/** Adds a bin (s, bar, samples); true when that closed a slot, which is when a new look is worth while. */
export function addToSlots(s: SettlingState, window: number, time: number, mean: number, count: number): boolean {
  const index = Math.floor((time * perWindow) / window);
  let closed = false;
  if (s.n > 0 && index !== s.index) {
    s.time[s.head] = s.first + s.sumTime / s.n;
    s.mean[s.head] = s.base + s.sum / s.n;
    s.weight[s.head] = s.n;
    s.head = (s.head + 1) % capacity;
    if (s.size < capacity) s.size++;
    s.n = 0;
    closed = true;
  }
  if (s.n === 0) {
    s.index = index;
    s.first = time;
    s.base = mean;
    s.sumTime = 0;
    s.sum = 0;
  }
  s.n += count;
  s.sumTime += (time - s.first) * count;
  s.sum += (mean - s.base) * count;
  return closed;
}

export function clearSlots(s: SettlingState): void {
  s.size = 0;
  s.n = 0;
}

/** A straight line through a window: slope and its standard error (bar/s), level at the window's end (bar). */
export interface Slope {
  slope: number;
  error: number;
  level: number;
  slots: number;
}

/** Least-squares line through the slots with times in (from, to]; `undefined` below four slots. */
export function slopeBetween(s: SettlingState, from: number, to: number): Slope | undefined {
  let n = 0, st = 0, sp = 0, w = 0, base = 0;
  for (let back = 1; back <= s.size; back++) {
    const i = (s.head - back + capacity) % capacity;
    const t = s.time[i] as number;
    if (t > to) continue;
    if (t <= from) break;
    if (n === 0) base = s.mean[i] as number;
    const weight = s.weight[i] as number;
    n++;
    w += weight;
    st += weight * (t - to);
    sp += weight * ((s.mean[i] as number) - base);
  }
  if (n < 4) return undefined;
  const t0 = st / w, p0 = sp / w;
  let stt = 0, stp = 0;
  for (let back = 1; back <= s.size; back++) {
    const i = (s.head - back + capacity) % capacity;
    const t = s.time[i] as number;
    if (t > to) continue;
    if (t <= from) break;
    const weight = s.weight[i] as number;
    const x = t - to - t0;
    stt += weight * x * x;
    stp += weight * x * ((s.mean[i] as number) - base - p0);
  }
  if (!(stt > 0)) return undefined;
  const slope = stp / stt;
  let rss = 0;
  for (let back = 1; back <= s.size; back++) {
    const i = (s.head - back + capacity) % capacity;
    const t = s.time[i] as number;
    if (t > to) continue;
    if (t <= from) break;
    const r = (s.mean[i] as number) - base - p0 - slope * (t - to - t0);
    rss += (s.weight[i] as number) * r * r;
  }
  return { slope, error: Math.sqrt(rss / (n - 2) / stt), level: base + p0 - slope * t0, slots: n };
}

export type Settled = 'slope' | 'steady' | null;

export interface SettlingSettings {
  /** s */ readonly settleWindow: number;
  /** bar/s */ readonly settleSlope: number;
}

/**
 * Looks whether settling is over at `now`, the last pumping having ended at `since` (both s): `slope` when it is small
 * in the light of its standard error, `steady` when it no longer changes from one window to the next.
 */
export function settledAt(s: SettlingState, set: SettlingSettings, since: number, now: number): Settled {
  const w = set.settleWindow;
  const slack = w / perWindow;
  for (let k = 1; k <= 3; k++) {
    // A noisy reading needs a longer look: up to three windows, as far as there was no pumping in them.
    if (k > 1 && now - since < k * w) break;
    const line = slopeBetween(s, Math.max(now - k * w, since - slack), now);
    if (line === undefined) break;
    const longest = k === 3 || now - since < (k + 1) * w;
    if (line.error > (longest && k > 1 ? 1 : 0.4) * set.settleSlope) continue;
    if (isSmall(s, set, since, now, line)) return 'slope';
    break;
  }
  if (now - since < 2 * w) return null;
  const late = slopeBetween(s, now - w, now);
  const early = slopeBetween(s, now - 2 * w, now - w);
  if (late === undefined || early === undefined) return null;
  const error = Math.hypot(late.error, early.error);
  // A leak through an opening slackens a little as the pressure falls; settling slackens far more from window to window.
  const slope = Math.abs(late.slope);
  const allowed = Math.max(2 * error, slope > 2 * set.settleSlope ? 0.03 * slope : 0, 0.01 * set.settleSlope);
  return error <= 0.25 * set.settleSlope && Math.abs(late.slope - early.slope) <= allowed ? 'steady' : null;
}

/**
 * Is the slope over the last window within the limit? Far from the limit the line itself says so; near it the
 * decay of two and a half windows is drawn through the slots first, because slow noise in one window alone moves the
 * moment by seconds.
 */
function isSmall(s: SettlingState, set: SettlingSettings, since: number, now: number, line: Slope): boolean {
  const slope = Math.abs(line.slope);
  if (slope > 2 * set.settleSlope) return false;
  const smooth = smoothedSlope(s, Math.max(now - 2.5 * set.settleWindow, since + 1), now, set.settleWindow);
  return Math.abs(smooth ?? line.slope) <= set.settleSlope;
}
