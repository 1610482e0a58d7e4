/** Readings that do not change at all: the longest stretch under pressure, and a reading stuck at its upper end. */
export interface StillnessState {
  pressure: number;
  from: number;
  to: number;
  best: { from: number; to: number; pressure: number } | null;
}

export const freshStillness = (): StillnessState => ({ pressure: NaN, from: 0, to: 0, best: null });

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

/** Closes the stretch that is going on. */
export function endStillness(s: StillnessState): void {
  const length = s.to - s.from;
  if (length > worthTelling && (s.best === null || length > s.best.to - s.best.from)) s.best = { from: s.from, to: s.to, pressure: s.pressure };
  s.pressure = NaN;
}
