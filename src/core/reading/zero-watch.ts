/** The vented reading: what the transducer shows when there is no pressure, over the last seconds. */
export interface ZeroState {
  /** Ring of half-second means. */
  means: number[];
  head: number;
  size: number;
  index: number;
  sum: number;
  n: number;
}

const slot = 0.5;
const capacity = 20;

export const freshZero = (): ZeroState => ({ means: new Array<number>(capacity).fill(0), head: 0, size: 0, index: -1, sum: 0, n: 0 });

/** Adds a bin; true when that completed half a second, which is when the vented reading may have changed. */
export function addToZero(s: ZeroState, time: number, mean: number): boolean {
  const index = Math.floor(time / slot);
  const closed = s.n > 0 && index !== s.index;
  if (closed) {
    s.means[s.head] = s.sum / s.n;
    s.head = (s.head + 1) % capacity;
    if (s.size < capacity) s.size++;
    s.sum = 0;
    s.n = 0;
  }
  s.index = index;
  s.sum += mean;
  s.n++;
  return closed;
}

export function clearZero(s: ZeroState): void {
  s.size = 0;
  s.n = 0;
  s.sum = 0;
}

const newest = (s: ZeroState, back: number): number => s.means[(s.head - 1 - back + 2 * capacity) % capacity] as number;

/**
 * Median of the vented half-seconds before a rise, the last one left out because the rise may have begun in it; NaN
 * below a second of vented reading.
 */
export function zeroBeforeRise(s: ZeroState): number {
  return medianOf(s, s.size > 2 ? 1 : 0, s.size);
}

/** The vented reading before anything crept in: median of the oldest two seconds kept; NaN below one second. */
export function zeroOfOld(s: ZeroState): number {
  return medianOf(s, Math.max(0, s.size - 4), s.size);
}

/** bar: by how much the newer half lies above the older one; 0 when too little was seen. */
export function zeroClimb(s: ZeroState): number {
  return s.size < 6 ? 0 : medianOf(s, 0, s.size >> 1) - medianOf(s, s.size - (s.size >> 1), s.size);
}

/** bar, the reading that a vented bench has come to: median of the last `seconds`; NaN below one second. */
export function zeroAfterVent(s: ZeroState, seconds = 2): number {
  return medianOf(s, 0, Math.min(s.size, seconds / slot));
}

/** s between the middles of the two halves that `zeroFall` compares, where all of them were seen. */
export const fallSpan = 2.5;

/** bar: by how much the reading fell within `fallSpan`, by the medians of the last five seconds' halves; NaN below three seconds. */
export function zeroFall(s: ZeroState): number {
  const n = Math.min(s.size, (2 * fallSpan) / slot);
  return n * slot < 3 ? NaN : medianOf(s, n >> 1, n) - medianOf(s, 0, n >> 1);
}

/** bar/s: how fast the vented reading still falls; 0 when too little was seen. */
export function zeroDrift(s: ZeroState): number {
  const back = Math.min(2, s.size - 1);
  return back < 1 ? 0 : (newest(s, 0) - newest(s, back)) / (back * slot);
}

function medianOf(s: ZeroState, from: number, to: number): number {
  if (to - from < 2) return NaN;
  const values: number[] = [];
  for (let back = from; back < to; back++) values.push(newest(s, back));
  values.sort((a, b) => a - b);
  const half = values.length >> 1;
  return values.length % 2 === 1 ? (values[half] as number) : ((values[half - 1] as number) + (values[half] as number)) / 2;
}
