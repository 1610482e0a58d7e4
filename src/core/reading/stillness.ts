/** Readings that do not change at all: the longest stretch under pressure, and a reading stuck at its upper end. */
export interface StillnessState {
  pressure: number;
  from: number;
  to: number;
  best: { from: number; to: number; pressure: number } | null;
  /** Seconds of the vented reading since the last cycle in which it leapt by two steps or more, and came back; and the last of them. */
  moved: number;
  movedIn: number;
  lastVented: number;
  lastLeap: number;
}

export const freshStillness = (): StillnessState => ({ pressure: NaN, from: 0, to: 0, best: null, moved: 0, movedIn: -1, lastVented: NaN, lastLeap: 0 });

/** s; shorter stretches are not remembered. */
const worthTelling = 1;

export function stepStillness(s: StillnessState, time: number, pressure: number): void {
  if (pressure === s.pressure) {
    s.to = time;
    return;
  }
  endStillness(s);
  s.pressure = pressure;
  s.from = time;
  s.to = time;
}

/**
 * Takes a vented reading (s, bar). One that lies between two steps flickers by one, however quiet; a jump of two is noise.
 * @param step bar, 0 where it is not known
 */
export function stepVented(s: StillnessState, time: number, pressure: number, step: number): void {
  const leap = pressure - s.lastVented;
  const before = s.lastLeap;
  s.lastLeap = leap;
  s.lastVented = pressure;
  // To one side and back: pressure that comes or goes leaps as well, but goes on.
  if (!(leap * before < 0) || !(step > 0)) return;
  const [less, more] = Math.abs(leap) < Math.abs(before) ? [Math.abs(leap), Math.abs(before)] : [Math.abs(before), Math.abs(leap)];
  if (less < 0.5 * step || more < 1.5 * step || Math.floor(time) === s.movedIn) return;
  s.moved++;
  s.movedIn = Math.floor(time);
}

/** The vented reading is interrupted: what comes next is no neighbour. */
export function pauseVented(s: StillnessState): void {
  s.lastVented = NaN;
  s.lastLeap = 0;
}

/** Fewest such seconds by which the noise is known to be more than the steps hide: a pump that starts pulsates for one or two. */
const fewestSeconds = 3;

/** Did the vented reading have noise that a live signal cannot lose? Begins anew. */
export function takeLiveliness(s: StillnessState): boolean {
  const lively = s.moved >= fewestSeconds;
  s.moved = 0;
  s.movedIn = -1;
  pauseVented(s);
  return lively;
}

/** Closes the stretch that is going on. */
export function endStillness(s: StillnessState): void {
  const length = s.to - s.from;
  if (length > worthTelling && (s.best === null || length > s.best.to - s.best.from)) s.best = { from: s.from, to: s.to, pressure: s.pressure };
  s.pressure = NaN;
}
