import { Flag } from '../src/core/trace.js';
import { grid } from './bench.js';
import type { Moment } from './operator.js';
import type { Random } from './random.js';

/** A pressure transducer with its input, and how it is sampled. */
export interface TransducerSettings {
  /** Hz, 1 to 1000. */
  readonly rate: number;
  /** Standard deviation of the sampling time, as a share of the interval. */
  readonly jitter: number;
  /** s, first-order lag. */
  readonly lag: number;
  /** bar, standard deviation of the white noise. */
  readonly noise: number;
  /** bar, standard deviation of the slow noise: a sum of five first-order processes of 0.3 to 30 s, roughly 1/f. */
  readonly wander: number;
  /** bar/min */
  readonly drift: number;
  /** Share of the reading. */
  readonly gainError: number;
  /** bar */
  readonly zeroError: number;
  /** bar, step of the reading. */
  readonly resolution: number;
  /** bar, upper end: readings stop there. */
  readonly range: number;
  /** Probability that a sample is lost. */
  readonly lost: number;
  /** Readings are multiplied by this: 0.1 for an instrument that shows MPa where bar is expected. */
  readonly unitFactor: number;
}

/** Something that goes wrong between the pressure and the record. Durations in s; Infinity means to the end. */
export type SignalFault =
  | { readonly kind: 'glitch'; readonly start: Moment; /** bar, signed */ readonly height: number; /** 1 to 3 */ readonly samples: number }
  | { readonly kind: 'gap'; readonly start: Moment; readonly duration: number }
  /** Readings repeat the last value exactly. */
  | { readonly kind: 'frozen'; readonly start: Moment; readonly duration: number }
  /** The valve to the transducer is shut: it sees the trapped pressure, quietly. `fall` bar/min is lost by the trapped water. */
  | { readonly kind: 'shut-valve'; readonly start: Moment; readonly duration: number; readonly fall: number }
  | { readonly kind: 'zero-shift'; readonly start: Moment; /** bar */ readonly size: number }
  /** Wire off or loop fault: the reading shows `reading` bar (far below zero on a live-zero input) and is flagged. */
  | { readonly kind: 'loop-fault'; readonly start: Moment; readonly duration: number; readonly reading: number };

/** A fault that came, with the moment and size as recorded. */
export interface PlacedFault {
  readonly kind: SignalFault['kind'];
  /** s: extreme of a glitch, begin of anything else. */
  readonly at: number;
  /** bar, signed; 0 where it has no height. */
  readonly height: number;
  /** s: for a glitch from its first to its last sample. */
  readonly width: number;
}

/** What was recorded, column by column: a core `Trace` with flags. */
export interface Recording {
  /** s, ascending, in steps of 0.1 ms */ readonly time: Float64Array;
  /** bar */ readonly pressure: Float64Array;
  /** `Flag` bits */ readonly flags: Uint8Array;
  readonly faults: readonly PlacedFault[];
  /** s of the first sample stopped at the end of the range, NaN if none. */
  readonly saturatedAt: number;
  /** Samples stopped at the end of the range. */
  readonly saturated: number;
  /** bar; what the sensor would have read at each sample without noise, faults and errors. */
  readonly clean: Float64Array;
}

/** Time constants of the slow noise, s. */
const slowTimes = [0.3, 1, 3, 10, 30] as const;

/** Reads the true pressure (bar every `grid` s) from `from` to `to` s. Sample times start at 0 with `from`. */
export function record(
  truth: Float64Array,
  settings: TransducerSettings,
  faults: readonly SignalFault[],
  timeOf: (moment: Moment) => number,
  random: Random,
  from = 0,
  to = truth.length * grid,
): Recording {
  const seen = lagged(throughShutValve(truth, faults, timeOf), settings.lag);
  const { rate, jitter, noise, wander: slowNoise, drift, gainError, zeroError, resolution, range, lost, unitFactor } = settings;
  const interval = 1 / rate;
  const capacity = Math.floor((to - from) / interval);
  const time = new Float64Array(capacity);
  const pressure = new Float64Array(capacity);
  const clean = new Float64Array(capacity);
  const flags = new Uint8Array(capacity);
  const placed: PlacedFault[] = [];
  const shut = intervalsOf(faults, 'shut-valve', timeOf);
  const frozen = intervalsOf(faults, 'frozen', timeOf);
  const gaps = intervalsOf(faults, 'gap', timeOf);
  const loops = intervalsOf(faults, 'loop-fault', timeOf);
  const slow = new Float64Array(slowTimes.length);
  const slowStep = Float64Array.from(slowTimes, (t) => Math.exp(-interval / t));
  // Kicks are uniform (variance 1/12): many of them add up to a normal number, at a fraction of the cost.
  const slowKick = Float64Array.from(slowTimes, (t) => Math.sqrt((12 * (1 - Math.exp((-2 * interval) / t))) / slowTimes.length));
  for (let j = 0; j < slow.length; j++) slow[j] = random.normal() / Math.sqrt(slow.length);
  const glitch = glitchOffsets(faults, timeOf, settings, from, capacity, placed);

  let n = 0;
  let saturated = 0;
  let saturatedAt = Number.NaN;
  let last = 0;
  for (let i = 0; i < capacity; i++) {
    const shift = jitter > 0 ? Math.max(-0.4, Math.min(0.4, jitter * random.normal())) : 0;
    const t = Math.max(from, from + (i + shift) * interval);
    let wander = 0;
    for (let j = 0; slowNoise > 0 && j < slow.length; j++) {
      slow[j] = (slow[j] ?? 0) * (slowStep[j] ?? 0) + (slowKick[j] ?? 0) * (random.uniform() - 0.5);
      wander += slow[j] ?? 0;
    }
    const white = random.normal();
    const isLost = lost > 0 && random.chance(lost);
    if (isLost || inside(gaps, t)) continue;

    const sensed = valueAt(seen, t);
    // Trapped behind a shut valve the pressure carries neither pulsation nor pump noise; only drift is left.
    const noisy = inside(shut, t) ? 0 : noise * white + slowNoise * wander;
    let value = sensed * (1 + gainError) + zeroError + (drift / 60) * t + noisy + zeroShift(faults, timeOf, t) + (glitch[i] ?? 0);
    let flag: number = Flag.good;
    const loop = inside(loops, t);
    if (loop?.kind === 'loop-fault') {
      value = loop.reading;
      flag = Flag.fault;
    } else if (value >= range) {
      value = range;
      flag = Flag.saturated;
      if (saturated++ === 0) saturatedAt = t - from;
    }
    if (inside(frozen, t)) value = last;
    else last = value;
    const step = resolution * unitFactor;
    time[n] = Math.round((t - from) * 1e4) / 1e4;
    pressure[n] = rounded(value * unitFactor, step);
    clean[n] = sensed;
    flags[n] = flag;
    n++;
  }
  for (const [kind, list] of [['gap', gaps], ['frozen', frozen], ['shut-valve', shut], ['loop-fault', loops]] as const) {
    for (const each of list) placed.push({ kind, at: each.start - from, height: 0, width: Math.min(each.end, to) - each.start });
  }
  for (const fault of faults) {
    const at = fault.kind === 'zero-shift' ? timeOf(fault.start) : Number.NaN;
    if (fault.kind === 'zero-shift' && !Number.isNaN(at)) placed.push({ kind: 'zero-shift', at: at - from, height: fault.size, width: 0 });
  }
  return {
    time: time.slice(0, n), pressure: pressure.slice(0, n), flags: flags.slice(0, n), clean: clean.slice(0, n),
    faults: placed.sort((a, b) => a.at - b.at), saturated, saturatedAt,
  };
}

/** To the nearest step, without the binary dust of a product such as 3 x 0.1. */
function rounded(value: number, step: number): number {
  const perUnit = 1 / step;
  const whole = Math.round(perUnit);
  return Math.abs(perUnit - whole) < 1e-6 ? Math.round(value * whole) / whole : Math.round(value / step) * step;
}


function intervalsOf(faults: readonly SignalFault[], kind: SignalFault['kind'], timeOf: (moment: Moment) => number) {
  return faults.flatMap((fault) => {
    if (fault.kind !== kind || !('duration' in fault)) return [];
    const start = timeOf(fault.start);
    if (Number.isNaN(start)) return [];
    return [{ kind: fault.kind, start, end: start + fault.duration, reading: fault.kind === 'loop-fault' ? fault.reading : 0, fall: fault.kind === 'shut-valve' ? fault.fall : 0 }];
  });
}

function inside(list: ReturnType<typeof intervalsOf>, t: number) {
  for (const each of list) if (t >= each.start && t < each.end) return each;
  return undefined;
}

/** The pressure that reaches the sensor: the trapped one while its valve is shut. */
function throughShutValve(truth: Float64Array, faults: readonly SignalFault[], timeOf: (moment: Moment) => number): Float64Array {
  const shut = intervalsOf(faults, 'shut-valve', timeOf);
  if (shut.length === 0) return truth;
  const seen = truth.slice();
  for (const { start, end, fall } of shut) {
    const first = Math.round(start / grid);
    const trapped = truth[first] ?? 0;
    for (let i = first; i < Math.min(seen.length, end / grid); i++) seen[i] = Math.max(0, trapped - (fall / 60) * (i - first) * grid);
  }
  return seen;
}

/** Room for the lagged signal, used again by the next recording: fresh megabytes for each run cost more than the filter. */
let scratch = new Float64Array(0);

/** First-order lag, exact for a signal that is constant over a grid step. */
function lagged(signal: Float64Array, lag: number): Float64Array {
  if (lag <= 0) return signal;
  if (scratch.length < signal.length) scratch = new Float64Array(signal.length);
  const out = scratch.subarray(0, signal.length);
  const keep = Math.exp(-grid / lag);
  let y = signal[0] ?? 0;
  for (let i = 0; i < signal.length; i++) {
    const x = signal[i] ?? 0;
    y = x + (y - x) * keep;
    out[i] = y;
  }
  return out;
}

/** Linear between grid points, the end values beyond them. */
function valueAt(signal: Float64Array, t: number): number {
  const x = Math.min(Math.max(t / grid, 0), signal.length - 1.001);
  const i = Math.floor(x);
  const low = signal[i] ?? 0;
  return low + (x - i) * ((signal[i + 1] ?? low) - low);
}

function zeroShift(faults: readonly SignalFault[], timeOf: (moment: Moment) => number, t: number): number {
  let total = 0;
  for (const fault of faults) if (fault.kind === 'zero-shift' && t >= timeOf(fault.start)) total += fault.size;
  return total;
}

/** Offset of each sample by glitches; notes where they landed. */
function glitchOffsets(
  faults: readonly SignalFault[],
  timeOf: (moment: Moment) => number,
  settings: TransducerSettings,
  from: number,
  capacity: number,
  placed: PlacedFault[],
): Float64Array {
  const offsets = new Float64Array(capacity);
  for (const fault of faults) {
    if (fault.kind !== 'glitch') continue;
    const start = timeOf(fault.start);
    const first = Math.round((start - from) * settings.rate);
    if (Number.isNaN(start) || first < 0 || first + fault.samples > capacity) continue;
    for (let k = 0; k < fault.samples; k++) {
      // The middle of a burst reaches its full height, its ends a little less.
      const share = k === Math.floor(fault.samples / 2) ? 1 : 0.85;
      offsets[first + k] = (offsets[first + k] ?? 0) + fault.height * share;
    }
    placed.push({
      kind: 'glitch', at: (first + Math.floor(fault.samples / 2)) / settings.rate, height: fault.height, width: (fault.samples - 1) / settings.rate,
    });
  }
  return offsets;
}
