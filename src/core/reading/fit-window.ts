/**
 * The stretch that the leak is fitted on, as at most 128 averages: from the end of pumping to the end of the hold.
 * When the room is used up, neighbours are merged, so an hour costs no more memory than a minute.
 */
export interface FitWindowState {
  /** s, present width of an average. */
  width: number;
  index: number;
  times: number[];
  means: number[];
  counts: number[];
}

/** Averages kept: enough to follow the quickest settling, few enough for a fit in a few milliseconds. */
const room = 128;
const narrowest = 0.1;

export const freshFitWindow = (): FitWindowState => ({ width: narrowest, index: -1, times: [], means: [], counts: [] });

export function clearFitWindow(s: FitWindowState): void {
  s.width = narrowest;
  s.index = -1;
  s.times.length = 0;
  s.means.length = 0;
  s.counts.length = 0;
}

/** Adds a bin: middle time (s), mean (bar), samples. */
export function addToFit(s: FitWindowState, time: number, mean: number, count: number): void {
  const index = Math.floor(time / s.width + 1e-6);
  const last = s.times.length - 1;
  if (last >= 0 && index === s.index) {
    const n = (s.counts[last] as number) + count;
    s.times[last] = (s.times[last] as number) + ((time - (s.times[last] as number)) * count) / n;
    s.means[last] = (s.means[last] as number) + ((mean - (s.means[last] as number)) * count) / n;
    s.counts[last] = n;
    return;
  }
  if (s.times.length >= room) {
    merge(s);
    addToFit(s, time, mean, count);
    return;
  }
  s.index = index;
  s.times.push(time);
  s.means.push(mean);
  s.counts.push(count);
}

/** Takes a rise of `by` bar at `time` (s) off again: it was pumped in. */
export function lowerFrom(s: FitWindowState, time: number, by: number): void {
  for (let i = s.times.length - 1; i >= 0 && (s.times[i] as number) > time; i--) s.means[i] = (s.means[i] as number) - by;
}

function merge(s: FitWindowState): void {
  s.width *= 2;
  let to = -1;
  let index = -1;
  for (let i = 0; i < s.times.length; i++) {
    const t = s.times[i] as number;
    const k = Math.floor(t / s.width + 1e-6);
    if (to >= 0 && k === index) {
      const n = (s.counts[to] as number) + (s.counts[i] as number);
      const share = (s.counts[i] as number) / n;
      s.times[to] = (s.times[to] as number) + (t - (s.times[to] as number)) * share;
      s.means[to] = (s.means[to] as number) + ((s.means[i] as number) - (s.means[to] as number)) * share;
      s.counts[to] = n;
    } else {
      to++;
      index = k;
      s.times[to] = t;
      s.means[to] = s.means[i] as number;
      s.counts[to] = s.counts[i] as number;
    }
  }
  s.times.length = to + 1;
  s.means.length = to + 1;
  s.counts.length = to + 1;
  s.index = index;
}
