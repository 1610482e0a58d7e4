import { binWidth, lowestBetween, type BinsState } from './bins.js';
import type { SignalScale } from './signal-scale.js';

/**
 * Short real excursions above the running envelope. A local top counts when the pressure was lower by `spikeHeight`
 * both within `spikeWidth` before it and within `spikeWidth` after it: a stroke that lifts the pressure and stays up
 * is none, nor is the start of a vent.
 */
export interface SpikeState {
  /** Highest sample of the present climb. */
  top: number;
  topAt: number;
  doubt: boolean;
  started: boolean;
  /** A top that has fallen far enough and waits for what follows. */
  waiting: boolean;
  spikeAt: number;
  spikeTop: number;
  before: number;
  after: number;
  spikeDoubt: boolean;
  /** s: when the flanks passed half height. */
  riseAt: number;
  fallAt: number;
}

export interface SpikeSettings {
  /** bar */ readonly spikeHeight: number;
  /** s */ readonly spikeWidth: number;
}

export type SpikeSink = (at: number, height: number, width: number, top: number, doubt: boolean) => void;

export const freshSpike = (): SpikeState => ({
  top: 0, topAt: 0, doubt: false, started: false, waiting: false,
  spikeAt: -1e9, spikeTop: 0, before: 0, after: 0, spikeDoubt: false, riseAt: 0, fallAt: 0,
});

/** Takes a real sample; `bins` holds the bins up to it. */
export function stepSpike(
  s: SpikeState, set: SpikeSettings, bins: BinsState, scale: SignalScale, time: number, pressure: number, doubt: boolean, sink: SpikeSink,
): void {
  if (!s.started) {
    s.started = true;
    s.top = pressure;
    s.topAt = time;
    return;
  }
  if (s.waiting) follow(s, set, time, pressure, sink);
  if (pressure >= s.top) {
    s.top = pressure;
    s.topAt = time;
    s.doubt = doubt;
    return;
  }
  const height = Math.max(set.spikeHeight, 8 * scale.sigma);
  if (time - s.topAt > set.spikeWidth) {
    s.top = pressure;
    s.topAt = time;
    s.doubt = doubt;
    return;
  }
  if (s.top - pressure < height || s.waiting) return;
  const before = lowestOfClimb(s, set, bins);
  if (s.top - before >= height) {
    s.waiting = true;
    s.spikeAt = s.topAt;
    s.spikeTop = s.top;
    s.spikeDoubt = s.doubt;
    s.before = before;
    s.after = pressure;
    s.fallAt = time;
  }
  s.top = pressure;
  s.topAt = time;
  s.doubt = doubt;
}

/** Lowest pressure within `spikeWidth` before the top, from the bins and what the open bin holds. */
function lowestOfClimb(s: SpikeState, set: SpikeSettings, bins: BinsState): number {
  // What lies before the last spike is no climb of this one.
  const from = Math.max(s.topAt - set.spikeWidth - 0.025, s.spikeAt);
  const closed = lowestBetween(bins, from, s.topAt - binWidth / 2);
  const open = bins.open.count > 0 && bins.open.first < s.topAt && bins.open.first >= from ? bins.open.base : NaN;
  if (Number.isNaN(closed)) return Number.isNaN(open) ? s.top : open;
  return open < closed ? open : closed;
}

/** A spike is told once its fall is over: after `spikeWidth`, or when the pressure rises again. */
function follow(s: SpikeState, set: SpikeSettings, time: number, pressure: number, sink: SpikeSink): void {
  if (pressure < s.after) s.after = pressure;
  const base = Math.max(s.before, s.after);
  const half = base + (s.spikeTop - base) / 2;
  if (pressure > half) s.fallAt = time;
  const over = time - s.spikeAt > set.spikeWidth || pressure > s.after + (s.spikeTop - s.after) * 0.5;
  if (!over) return;
  tell(s, set, sink);
}

/** Tells the spike that waits, unless the pressure went far below where it came from: that is a fall, not a return. */
function tell(s: SpikeState, set: SpikeSettings, sink: SpikeSink): void {
  s.waiting = false;
  const height = s.spikeTop - Math.max(s.before, s.after);
  if (height < set.spikeHeight || s.after < s.before - height) return;
  sink(s.spikeAt, height, 2 * Math.max(s.fallAt - s.spikeAt, 0), s.spikeTop, s.spikeDoubt);
}

/** Tells a spike that still waits at the end of the recording. */
export function endSpike(s: SpikeState, set: SpikeSettings, sink: SpikeSink): void {
  if (s.waiting) tell(s, set, sink);
}
