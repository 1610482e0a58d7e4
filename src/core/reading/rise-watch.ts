import { binAt, binBefore, type Bin } from './bins.js';
import type { SignalScale } from './signal-scale.js';
import type { CycleSettings, TrackerState } from './tracker-state.js';

/** What a cycle's record learns while the pressure goes up: its peak, how steeply it rose, when it came into the band. */

/** Highest real pressure so far. */
export function watchPeak({ record }: TrackerState, { sigma, resolution }: SignalScale, b: Bin): void {
  // A level bin shows its mean; only where the pressure moves within a bin is the single sample the better witness.
  const level = b.highest - b.lowest <= 7 * sigma + resolution;
  const value = level ? b.mean : b.highest;
  if (record.peak === null || value > record.peak) {
    record.peak = value;
    record.peakAt = b.time;
  }
}

/** Mean rate from a tenth to nine tenths of the test pressure, and the steepest over a second. */
export function watchRise(s: TrackerState, { testPressure }: CycleSettings, b: Bin): void {
  const r = s.record;
  if (Number.isNaN(s.tenthAt) && b.mean >= 0.1 * testPressure && !r.startsPressurised) s.tenthAt = b.time;
  if (r.meanRise === null && b.mean >= 0.9 * testPressure && b.time > s.tenthAt) r.meanRise = (0.8 * testPressure) / (b.time - s.tenthAt);
  // By the lowest samples, so that a spike is no rise.
  const back = binBefore(s.bins, b.time - 1);
  if (back < 0) return;
  const i = binAt(s.bins, back);
  const rate = (b.lowest - (s.bins.lowest[i] as number)) / (b.time - (s.bins.time[i] as number));
  if (r.steepest === null || rate > r.steepest.rate) r.steepest = { at: b.time, rate };
}

/** When the pressure came into the band to stay. */
export function watchArrival(s: TrackerState, { reach, limits }: CycleSettings, b: Bin): void {
  const r = s.record;
  if (r.arrived) return;
  if (b.mean < reach) {
    s.inBandSince = NaN;
    return;
  }
  if (Number.isNaN(s.inBandSince)) {
    s.inBandSince = b.time;
    s.firstInBand = b.first;
  }
  // A spike comes and goes within `spikeWidth`: only what stays longer has arrived.
  const stayed = b.time - s.inBandSince;
  if (stayed < limits.spikeWidth || stayed <= 0) return;
  r.arrived = true;
  r.reached = r.startsPressurised && s.phaseSince >= s.firstInBand - 1e-9 ? null : s.firstInBand;
}
