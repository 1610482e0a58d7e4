/**
 * The first stage: a clock that starts at 0 and counts whole microseconds, so that neither the moment a recording
 * began nor the size of its time stamps can change a decision; and what is said about stamps that repeat or go back.
 */

/** What became of a time stamp. */
export const Stamp = { forward: 0, equal: 1, backward: 2 } as const;

export interface IntakeState {
  started: boolean;
  /** s, the trace's own time that counts as 0. */
  origin: number;
  /** s since `origin`, whole microseconds. */
  now: number;
  /** s since `origin` of the stamp before. */
  before: number;
  samples: number;
  duplicates: number;
  backward: number;
  /** s, mean of the last intervals that were no gap; 0 until two stamps were seen. */
  interval: number;
  intervals: number;
  /** s, length of the gap that ended with the newest stamp; 0 where there was none. */
  gap: number;
}

export const freshIntake = (): IntakeState => ({
  started: false,
  origin: 0,
  now: 0,
  before: 0,
  samples: 0,
  duplicates: 0,
  backward: 0,
  interval: 0,
  intervals: 0,
  gap: 0,
});

/** Intervals over which the mean spacing is kept: many enough to even out bunched arrivals. */
const memory = 64;

/** Silence that counts as a gap, s: the threshold, and never less than three usual intervals. */
export const gapLimit = (s: IntakeState, gap: number): number => Math.max(gap, 3 * s.interval);

/**
 * Takes a time stamp (s) in. After it `now` holds the clock and `gap` the length of a silence just ended.
 * A backward stamp changes nothing but its counter.
 */
export function takeStamp(s: IntakeState, time: number, gap: number): number {
  if (!s.started) {
    s.started = true;
    s.origin = time;
    s.now = 0;
    s.before = 0;
    s.samples = 1;
    return Stamp.forward;
  }
  const now = Math.round((time - s.origin) * 1e6) / 1e6;
  const step = now - s.now;
  if (!(step >= 0)) {
    s.backward++;
    return Stamp.backward;
  }
  s.samples++;
  if (step === 0) {
    s.duplicates++;
    s.gap = 0;
    return Stamp.equal;
  }
  s.before = s.now;
  s.now = now;
  if (s.intervals > 0 && step > gapLimit(s, gap)) {
    s.gap = step;
  } else {
    s.gap = 0;
    if (s.intervals < memory) s.intervals++;
    s.interval += (step - s.interval) / s.intervals;
  }
  return Stamp.forward;
}
