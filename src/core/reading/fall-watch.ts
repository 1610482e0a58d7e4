import { binAt, binBefore, type BinsState } from './bins.js';

/**
 * Quick falls. A fall faster than `ventRate` is watched until it has either gone far enough to be a vent or stopped:
 * then it was a step (a valve that let water back, a bleed) or the back of a spike.
 */
export interface FallState {
  falling: boolean;
  /** s: the moment the fall began. */
  onset: number;
  /** bar: the level it fell from. */
  level: number;
  /** bar: the reading at the onset, the top of a spike if it was one. */
  top: number;
  /** bar: the level well before, against which a spike's back is told from a real step. */
  before: number;
}

export const freshFall = (): FallState => ({ falling: false, onset: 0, level: 0, top: 0, before: 0 });

export type FallNews = 'none' | 'began' | 'vent' | 'step' | 'dismissed';

export interface FallSettings {
  /** bar/s */ readonly ventRate: number;
  /** bar */ readonly ventPressure: number;
  /** bar */ readonly strokeHeight: number;
}

/** s over which the rate of fall is taken. */
const look = 0.5;
/** Share of the level that must be gone before a quick fall is a vent. */
const gone = 0.1;

/** Looks at the newest bin of `bins`; `sigma` is the noise of a bin, bar. */
export function stepFall(s: FallState, set: FallSettings, bins: BinsState, sigma: number): FallNews {
  if (bins.size < 2) return 'none';
  const newest = binAt(bins, 0);
  const time = bins.time[newest] as number;
  const mean = bins.mean[newest] as number;
  let back = binBefore(bins, time - look);
  if (back < 1) back = Math.min(bins.size - 1, 1);
  const old = binAt(bins, back);
  const rate = (mean - (bins.mean[old] as number)) / (time - (bins.time[old] as number));
  if (!s.falling) {
    const deep = (bins.mean[old] as number) - mean > Math.max(set.strokeHeight, 6 * sigma);
    if (!(rate < -set.ventRate && deep)) return 'none';
    s.falling = true;
    s.level = highestMean(bins, back);
    s.onset = onsetOf(bins, back, s.level - Math.max(set.strokeHeight, 5 * sigma));
    const at = binBefore(bins, s.onset);
    s.top = at < 0 ? s.level : (bins.mean[binAt(bins, at)] as number);
    s.before = levelBefore(bins, s.onset);
    return 'began';
  }
  if (mean < (1 - gone) * Math.min(s.level, s.before) || mean < set.ventPressure) {
    s.falling = false;
    return 'vent';
  }
  if (rate > -set.ventRate / 3) {
    s.falling = false;
    return s.before - mean > Math.max(set.strokeHeight, 6 * sigma) ? 'step' : 'dismissed';
  }
  return 'none';
}

/** Highest mean of the `back` + 1 newest bins: where a fall starts that follows a rise without a pause. */
function highestMean(bins: BinsState, back: number): number {
  let highest = bins.mean[binAt(bins, back)] as number;
  for (let b = 0; b < back; b++) highest = Math.max(highest, bins.mean[binAt(bins, b)] as number);
  return highest;
}

/** Time of the last bin, from `back` on, that was still up. */
function onsetOf(bins: BinsState, back: number, floor: number): number {
  let onset = bins.time[binAt(bins, back)] as number;
  for (let b = back; b >= 0; b--) {
    const i = binAt(bins, b);
    if ((bins.mean[i] as number) >= floor) onset = bins.time[i] as number;
  }
  return onset;
}

/** Mean of the bins from 1.2 to 0.3 s before the onset; the level at the onset where there are none. */
function levelBefore(bins: BinsState, onset: number): number {
  let n = 0, sum = 0, nearest = NaN;
  for (let b = 0; b < bins.size; b++) {
    const i = binAt(bins, b);
    const t = bins.time[i] as number;
    if (t > onset) continue;
    if (Number.isNaN(nearest)) nearest = bins.mean[i] as number;
    if (t > onset - 0.3) continue;
    if (t < onset - 1.2) break;
    n++;
    sum += bins.mean[i] as number;
  }
  return n > 0 ? sum / n : nearest;
}
