/**
 * Short averages ("slots", 1/40 of a settling window) of what was read last: slopes taken on them have a standard error
 * that is honest about noise that lasts for several samples.
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
  /** s: no curve is drawn before, and the end of pumping (s) that this was reckoned from. */
  nextCurve: number;
  reckonedFrom: number;
}

export const perWindow = 40;
/** Slots through which a curve is drawn at most: six windows. */
export const curveSlots = 6 * perWindow + 4;
/** Slots kept: twelve windows, for a noisy loss is told from settling only by a long look. */
export const capacity = 12 * perWindow + 4;

export const freshSettling = (): SettlingState => ({
  index: -1, n: 0, sumTime: 0, sum: 0, base: 0, first: 0, head: 0, size: 0,
  time: new Array<number>(capacity).fill(0), mean: new Array<number>(capacity).fill(0), weight: new Array<number>(capacity).fill(0),
  nextCurve: 0, reckonedFrom: 0,
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

/** Leaves out what lies in [from, to] (s): a spike is no course of the pressure. */
export function leaveOut(s: SettlingState, from: number, to: number): void {
  for (let back = 1; back <= s.size; back++) {
    const i = (s.head - back + capacity) % capacity;
    if ((s.time[i] as number) < from) break;
    if ((s.time[i] as number) <= to) s.weight[i] = 0;
  }
  if (s.n > 0 && s.first <= to) s.n = 0;
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
    const weight = s.weight[i] as number;
    if (weight === 0) continue;
    if (n === 0) base = s.mean[i] as number;
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
