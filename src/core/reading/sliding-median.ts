/** Median of what was read over the last seconds. */
export interface SlidingMedian {
  /** s and bar, oldest first from `head` on. */
  time: number[];
  value: number[];
  head: number;
  /** The same values in order of size. */
  sorted: number[];
}

export const freshMedian = (): SlidingMedian => ({ time: [], value: [], head: 0, sorted: [] });

/** Adds a value (s, bar) and lets go of what is older than `width` s. */
export function addToMedian(s: SlidingMedian, time: number, value: number, width: number): void {
  s.time.push(time);
  s.value.push(value);
  s.sorted.splice(placeOf(s.sorted, value), 0, value);
  while ((s.time[s.head] as number) < time - width) {
    s.sorted.splice(placeOf(s.sorted, s.value[s.head] as number), 1);
    s.head++;
  }
  if (s.head > 256) {
    s.time.splice(0, s.head);
    s.value.splice(0, s.head);
    s.head = 0;
  }
}

/** s: the oldest value kept. */
export const oldestOf = (s: SlidingMedian): number => s.time[s.head] as number;

/** bar; NaN without a value. */
export function medianNow({ sorted }: SlidingMedian): number {
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1 ? (sorted[half] as number) : ((sorted[half - 1] as number) + (sorted[half] as number)) / 2;
}

export const copyOfMedian = ({ time, value, head, sorted }: SlidingMedian): SlidingMedian => ({ time: [...time], value: [...value], head, sorted: [...sorted] });

/** Place of the first value that is not smaller. */
function placeOf(sorted: readonly number[], value: number): number {
  let [low, high] = [0, sorted.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((sorted[middle] as number) < value) low = middle + 1;
    else high = middle;
  }
  return low;
}
