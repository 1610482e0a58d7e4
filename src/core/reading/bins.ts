/**
 * Short averages of the signal (about 50 ms, or one sample where sampling is slower) and a ring of the newest of
 * them. Everything slower than a spike is found on these, so its cost does not grow with the sample rate.
 */

/** s; a bin ends with the first sample of another one. */
export const binWidth = 0.05;

/** Bins that the ring keeps: half a minute from 20 Hz on. */
const capacity = 640;

export interface Bin {
  /** s: mean, first and last sample time. */
  time: number;
  first: number;
  last: number;
  /** bar */
  mean: number;
  lowest: number;
  highest: number;
  count: number;
}

export interface BinsState {
  open: { index: number; first: number; last: number; sumTime: number; sum: number; base: number; lowest: number; highest: number; count: number };
  /** Ring: newest at `(head - 1) mod capacity`. */
  head: number;
  size: number;
  time: number[];
  mean: number[];
  lowest: number[];
  highest: number[];
  count: number[];
}

const zeros = () => new Array<number>(capacity).fill(0);

export const freshBins = (): BinsState => ({
  open: { index: -1, first: 0, last: 0, sumTime: 0, sum: 0, base: 0, lowest: 0, highest: 0, count: 0 },
  head: 0,
  size: 0,
  time: zeros(),
  mean: zeros(),
  lowest: zeros(),
  highest: zeros(),
  count: zeros(),
});

/** Adds a good sample; returns true and fills `out` when it closed the bin before it. */
export function addToBin(s: BinsState, time: number, pressure: number, out: Bin): boolean {
  const o = s.open;
  // The small lift keeps stamps that lie on a border (0.05, 0.10 ...) from falling to either side by rounding.
  const index = Math.floor(time / binWidth + 1e-6);
  let closed = false;
  if (o.count > 0 && index !== o.index) closed = closeBin(s, out);
  if (o.count === 0) {
    o.index = index;
    o.first = time;
    o.base = pressure;
    o.sumTime = 0;
    o.sum = 0;
    o.lowest = pressure;
    o.highest = pressure;
  }
  o.last = time;
  // Sums are kept relative to the first sample, so that their digits are not spent on the level.
  o.sumTime += time - o.first;
  o.sum += pressure - o.base;
  if (pressure < o.lowest) o.lowest = pressure;
  if (pressure > o.highest) o.highest = pressure;
  o.count++;
  return closed;
}

/** Closes the open bin, if there is one, into `out` and the ring. */
export function closeBin(s: BinsState, out: Bin): boolean {
  const o = s.open;
  if (o.count === 0) return false;
  out.first = o.first;
  out.last = o.last;
  out.time = o.first + o.sumTime / o.count;
  out.mean = o.base + o.sum / o.count;
  out.lowest = o.lowest;
  out.highest = o.highest;
  out.count = o.count;
  o.count = 0;
  s.time[s.head] = out.time;
  s.mean[s.head] = out.mean;
  s.lowest[s.head] = out.lowest;
  s.highest[s.head] = out.highest;
  s.count[s.head] = out.count;
  s.head = (s.head + 1) % capacity;
  if (s.size < capacity) s.size++;
  return true;
}

/** Forgets the ring: what comes next does not belong to what was before. */
export function clearBins(s: BinsState): void {
  s.size = 0;
  s.open.count = 0;
}

/** Place in the ring of the bin that is `back` bins old (0 = newest). */
export const binAt = (s: BinsState, back: number): number => (s.head - 1 - back + 2 * capacity) % capacity;

/** Highest sample of the bins that reach into the last `span` seconds before `now`; `-Infinity`-free: NaN if none. */
export function highestWithin(s: BinsState, now: number, span: number): number {
  let highest = NaN;
  for (let back = 0; back < s.size; back++) {
    const i = binAt(s, back);
    if ((s.time[i] as number) < now - span) break;
    const value = s.highest[i] as number;
    if (!(value <= highest)) highest = value;
  }
  return highest;
}

/** Lowest sample of the bins whose middle lies in [from, to]; NaN if none. */
export function lowestBetween(s: BinsState, from: number, to: number): number {
  let lowest = NaN;
  for (let back = 0; back < s.size; back++) {
    const i = binAt(s, back);
    const t = s.time[i] as number;
    if (t > to) continue;
    if (t < from) break;
    const value = s.lowest[i] as number;
    if (!(value >= lowest)) lowest = value;
  }
  return lowest;
}

/** How many bins back the newest bin lies whose middle is at or before `time`; -1 if none. */
export function binBefore(s: BinsState, time: number): number {
  for (let back = 0; back < s.size; back++) if ((s.time[binAt(s, back)] as number) <= time) return back;
  return -1;
}

/**
 * Weighted least-squares line through the bins with middles in [from, to], evaluated at `at`; mean where the line is
 * not determined, NaN where there is no bin.
 */
export function lineThrough(s: BinsState, from: number, to: number, at: number): number {
  let n = 0, st = 0, sp = 0, stt = 0, stp = 0, base = NaN;
  for (let back = 0; back < s.size; back++) {
    const i = binAt(s, back);
    const t = s.time[i] as number;
    if (t > to) continue;
    if (t < from) break;
    const p = s.mean[i] as number;
    if (n === 0) base = p;
    const w = s.count[i] as number;
    const x = t - at;
    const y = p - base;
    n += w;
    st += w * x;
    sp += w * y;
    stt += w * x * x;
    stp += w * x * y;
  }
  if (n === 0) return NaN;
  const d = n * stt - st * st;
  return base + (d > 1e-9 * n * n ? (stt * sp - st * stp) / d : sp / n);
}
