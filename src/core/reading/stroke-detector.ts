/**
 * Pump strokes: rises that begin, stop and last. Works on bins. A rise that falls back within `spikeWidth` was a
 * spike and never counts as pumping; a steady ramp is one long stroke.
 */
export interface StrokeState {
  started: boolean;
  /** Lowest bin of the running and of the last trough period. */
  lowNow: number; lowNowAt: number;
  lowLast: number; lowLastAt: number;
  periodStart: number;
  previous: number;
  previousAt: number;
  rising: boolean;
  from: number; fromAt: number;
  top: number; topAt: number;
  steepest: number;
  stalled: number;
  /** A rise that has ended and must prove that it lasts. */
  proving: boolean;
  provenFrom: number; provenFromAt: number;
  provenTop: number; provenTopAt: number;
}

export interface StrokeSettings {
  /** bar */ readonly strokeHeight: number;
  /** s */ readonly spikeWidth: number;
}

/** A stroke that lasted: start and end of the rise (s), rise (bar), pressure at its start (bar). */
export type StrokeSink = (from: number, to: number, rise: number, startPressure: number) => void;

export const freshStroke = (): StrokeState => ({
  started: false, lowNow: 0, lowNowAt: 0, lowLast: 0, lowLastAt: 0, periodStart: 0, previous: 0, previousAt: 0,
  rising: false, from: 0, fromAt: 0, top: 0, topAt: 0, steepest: 0, stalled: 0,
  proving: false, provenFrom: 0, provenFromAt: 0, provenTop: 0, provenTopAt: 0,
});

/** s; a rise must be made within one to two of these, slower is creep. */
const troughPeriod = 0.75;

/** Takes a bin: middle time (s), mean (bar), noise of the mean (bar). */
export function stepStroke(s: StrokeState, set: StrokeSettings, time: number, mean: number, sigma: number, sink: StrokeSink): void {
  if (!s.started) {
    restart(s, time, mean);
    return;
  }
  if (s.proving) prove(s, set, time, mean, sink);
  const elapsed = time - s.previousAt;
  if (s.rising) rise(s, set, time, mean, elapsed, sigma);
  else wait(s, set, time, mean, elapsed, sigma);
  s.previous = mean;
  s.previousAt = time;
}

/** True while a rise is going on or has not yet been told from a spike. */
export const strokeOpen = (s: StrokeState): boolean => s.rising || s.proving;

/** The recording ends or pauses: a rise that was not disproved counts. */
export function endStroke(s: StrokeState, set: StrokeSettings, sink: StrokeSink): void {
  if (s.rising) finishRise(s);
  if (s.proving && s.provenTop - s.provenFrom >= set.strokeHeight) {
    s.proving = false;
    sink(s.provenFromAt, s.provenTopAt, s.provenTop - s.provenFrom, s.provenFrom);
  }
  s.started = false;
  s.rising = false;
  s.proving = false;
}

function restart(s: StrokeState, time: number, mean: number): void {
  s.started = true;
  s.previous = mean;
  s.previousAt = time;
  newTrough(s, time, mean);
}

function newTrough(s: StrokeState, time: number, mean: number): void {
  s.lowNow = mean;
  s.lowNowAt = time;
  s.lowLast = mean;
  s.lowLastAt = time;
  s.periodStart = time;
}

function wait(s: StrokeState, set: StrokeSettings, time: number, mean: number, elapsed: number, sigma: number): void {
  // Where bins are further apart than the trough period, the bin before is the trough.
  if (time - s.periodStart > Math.max(troughPeriod, 1.5 * elapsed)) {
    s.lowLast = s.lowNow;
    s.lowLastAt = s.lowNowAt;
    s.lowNow = Math.min(s.previous, mean);
    s.lowNowAt = s.previous <= mean ? s.previousAt : time;
    s.periodStart = time;
  }
  // The rise begins at the last bin that was still down, not at whichever the noise made lowest.
  if (mean <= s.lowNow + Math.max(3 * sigma, 0.1 * set.strokeHeight)) {
    s.lowNow = Math.min(s.lowNow, mean);
    s.lowNowAt = time;
  }
  const last = s.lowLast < s.lowNow - Math.max(3 * sigma, 0.1 * set.strokeHeight);
  const low = last ? s.lowLast : s.lowNow;
  if (mean - low < Math.max(set.strokeHeight, 7 * sigma)) return;
  s.rising = true;
  s.from = low;
  s.fromAt = last ? s.lowLastAt : s.lowNowAt;
  s.top = mean;
  s.topAt = time;
  s.steepest = Math.max((mean - s.previous) / Math.max(elapsed, 1e-6), (mean - low) / Math.max(time - s.fromAt, 1e-6));
  s.stalled = 0;
  // A further rise proves the one before it.
  if (s.proving) s.provenTop = Math.max(s.provenTop, s.from);
}

function rise(s: StrokeState, set: StrokeSettings, time: number, mean: number, elapsed: number, sigma: number): void {
  const rate = (mean - s.previous) / Math.max(elapsed, 1e-6);
  if (rate > s.steepest) s.steepest = rate;
  if (mean > s.top) {
    s.top = mean;
    if (rate >= 0.3 * s.steepest) s.topAt = time;
  }
  s.stalled = rate < 0.3 * s.steepest ? s.stalled + 1 : 0;
  const fallen = s.top - mean > Math.max(0.15 * (s.top - s.from), 0.5 * set.strokeHeight, 4 * sigma);
  if (s.stalled >= (elapsed > 0.08 ? 1 : 2) || fallen) {
    finishRise(s);
    newTrough(s, time, mean);
  }
}

function finishRise(s: StrokeState): void {
  s.rising = false;
  s.proving = true;
  s.provenFrom = s.from;
  s.provenFromAt = s.fromAt;
  s.provenTop = s.top;
  s.provenTopAt = s.topAt;
}

/** A rise lasts when the pressure has not fallen back to a fifth of it by `spikeWidth` after its top. */
function prove(s: StrokeState, set: StrokeSettings, time: number, mean: number, sink: StrokeSink): void {
  const height = s.provenTop - s.provenFrom;
  if (mean < s.provenFrom + 0.2 * height) {
    s.proving = false;
    return;
  }
  const moreRise = s.rising || mean > s.provenTop + 0.2 * height;
  if (time - s.provenTopAt >= set.spikeWidth || moreRise) {
    s.proving = false;
    sink(s.provenFromAt, s.provenTopAt, height, s.provenFrom);
  }
}
