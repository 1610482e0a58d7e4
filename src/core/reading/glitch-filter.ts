import { roundnessOf, type Pulse, type Roundness } from './pulse-shape.js';
import type { SignalScale } from './signal-scale.js';

/**
 * Tells electrical glitches from hydraulic pressure.
 *
 * A sample that lies where its neighbours lead one to expect it goes straight on. One that does not is held back for
 * a moment (25 ms, or four sample intervals) to see whether the signal comes back:
 * - it stays away: a stroke, a burst, a step of real pressure; all of it goes on;
 * - it comes back: an excursion. Edges steeper than water can follow, a quick leap to both sides, an excursion that came and
 *   went within `glitchWidth` by leaps, or a short leap downwards (a shut-in volume cannot lose and regain water) make
 *   it a glitch. A rounded one is real, as is one that was climbed and left in several steps (`pulse-shape.ts`). What the
 *   sample rate does not decide is marked as unclear.
 */
export interface GlitchSink {
  /** A sample of real pressure; `doubt` where it could also be electrical. */
  real(time: number, pressure: number, doubt: boolean): void;
  /** A group of samples that was a glitch; they are not handed on. */
  glitch(at: number, extreme: number, height: number, width: number, unclear: boolean): void;
}

export interface GlitchSettings {
  /** s */ readonly glitchWidth: number;
  /** bar/s */ readonly slewLimit: number;
  /** bar, the pressure that heights are judged against. */ readonly reference: number;
}

export interface GlitchState {
  /** Number of accepted samples the anchor is made of, at most 4. */
  known: number;
  t1: number; p1: number;
  t2: number; p2: number;
  t3: number; p3: number;
  t4: number; p4: number;
  /** Samples held back, oldest first. */
  times: number[];
  pressures: number[];
}

export const freshGlitch = (): GlitchState => ({
  known: 0, t1: 0, p1: 0, t2: 0, p2: 0, t3: 0, p3: 0, t4: 0, p4: 0, times: [], pressures: [],
});

/** Samples that are never exceeded in the queue, whatever the rate. */
const longest = 400;
/** Samples that the very first anchor is the median of. */
const opening = 5;
/** Share of the reference above which no single leap up and back is believed to be water. */
const implausible = 0.2;
/** Share of the reference below which an unclear leap upwards is taken for a spike rather than a glitch. */
const believable = 0.08;

/** Takes a good sample: s, bar. */
export function stepGlitch(s: GlitchState, set: GlitchSettings, scale: SignalScale, time: number, pressure: number, sink: GlitchSink): void {
  if (s.times.length === 0 && s.known > 0 && near(s, tolerance(set, scale), time, pressure)) {
    accept(s, time, pressure);
    sink.real(time, pressure, false);
    return;
  }
  s.times.push(time);
  s.pressures.push(pressure);
  settle(s, set, scale, false, sink);
}

/** Hands on whatever is still held back: the recording stops or pauses here. Afterwards nothing is known. */
export function flushGlitch(s: GlitchState, set: GlitchSettings, scale: SignalScale, sink: GlitchSink): void {
  settle(s, set, scale, true, sink);
  s.known = 0;
}

const tolerance = (set: GlitchSettings, scale: SignalScale): number =>
  Math.max(7 * scale.sigma, 1.5 * scale.resolution, 1e-4 * set.reference);

function accept(s: GlitchState, time: number, pressure: number): void {
  s.t4 = s.t3; s.p4 = s.p3;
  s.t3 = s.t2; s.p3 = s.p2;
  s.t2 = s.t1; s.p2 = s.p1;
  s.t1 = time; s.p1 = pressure;
  if (s.known < 4) s.known++;
}

/** Is the sample where the last one was, or where the last two lead? */
function near(s: GlitchState, tol: number, time: number, pressure: number): boolean {
  if (Math.abs(pressure - s.p1) <= tol) return true;
  if (s.known < 2 || s.t1 <= s.t2) return false;
  const led = s.p1 + ((s.p1 - s.p2) / (s.t1 - s.t2)) * (time - s.t1);
  return Math.abs(pressure - led) <= 1.5 * tol;
}

/** Where the signal would be at `time` had it gone on as over the last four samples. */
function course(s: GlitchState, time: number): number {
  if (s.known < 4 || s.t1 <= s.t4) return s.p1;
  return s.p1 + ((s.p1 - s.p4) / (s.t1 - s.t4)) * (time - s.t1);
}

function settle(s: GlitchState, set: GlitchSettings, scale: SignalScale, last: boolean, sink: GlitchSink): void {
  const tol = tolerance(set, scale);
  const span = Math.max(set.glitchWidth, 4.2 * scale.interval);
  while (s.times.length > 0) {
    if (s.known === 0) {
      if (s.times.length < opening && !last) return;
      anchorAtMedian(s);
    }
    const time = s.times[0] as number;
    const pressure = s.pressures[0] as number;
    if (near(s, tol, time, pressure)) {
      take(s, 1, false, sink);
      continue;
    }
    const back = returned(s, tol, last);
    if (back > 0) {
      resolveExcursion(s, set, scale, tol, back, sink);
      continue;
    }
    const newest = s.times[s.times.length - 1] as number;
    if (!last && newest - s.t1 <= span && s.times.length < longest) return;
    take(s, 1, false, sink);
  }
}

/** The first samples have no past: their median stands for it, so that a glitch at the very start is seen as one. */
function anchorAtMedian(s: GlitchState): void {
  const few = s.pressures.slice(0, opening).sort((a, b) => a - b);
  s.t1 = s.times[0] as number;
  s.p1 = few[few.length >> 1] as number;
  s.known = 1;
}

/** Hands the `n` oldest held samples on as real. */
function take(s: GlitchState, n: number, doubt: boolean, sink: GlitchSink): void {
  for (let i = 0; i < n; i++) {
    const time = s.times[i] as number;
    const pressure = s.pressures[i] as number;
    accept(s, time, pressure);
    sink.real(time, pressure, doubt);
  }
  drop(s, n);
}

function drop(s: GlitchState, n: number): void {
  if (n === s.times.length) {
    s.times.length = 0;
    s.pressures.length = 0;
    return;
  }
  s.times.splice(0, n);
  s.pressures.splice(0, n);
}

/**
 * Index of the first held sample that is back at the level or on the course of before and is followed by one that is
 * so too, 0 if none is. One alone may only be passing by: the flank of a spike, the fall of a burst. At the end of a
 * recording (`last`) nothing follows, and one has to do.
 */
function returned(s: GlitchState, tol: number, last: boolean): number {
  let height = Math.abs((s.pressures[0] as number) - s.p1);
  const n = s.times.length;
  for (let j = 1; j < n; j++) {
    if (isBack(s, tol, height, j) && (j + 1 < n ? isBack(s, tol, height, j + 1) : last)) return j;
    const off = Math.abs((s.pressures[j] as number) - s.p1);
    if (off > height) height = off;
  }
  return 0;
}

function isBack(s: GlitchState, tol: number, height: number, j: number): boolean {
  const pressure = s.pressures[j] as number;
  if (Math.abs(pressure - s.p1) <= Math.max(tol, 0.25 * height)) return true;
  const led = course(s, s.times[j] as number);
  // Where the course itself moves by more than the leap (a burst, a flank), coming near it again says nothing.
  return Math.abs(led - s.p1) < height && Math.abs(pressure - led) <= Math.max(1.5 * tol, 0.25 * height);
}

/** Decides what the `n` oldest held samples were, the one behind them being back. */
function resolveExcursion(
  s: GlitchState, set: GlitchSettings, { resolution, interval }: SignalScale, tol: number, n: number, sink: GlitchSink,
): void {
  const endTime = s.times[n] as number;
  const endPressure = s.pressures[n] as number;
  const outer = endTime - s.t1;
  // Readings that come late in a bunch bear stamps that lie too close: how steep they are is not told by them.
  const spacing = (from: number, to: number): number => Math.max(to - from, 0.5 * interval, 1e-9);
  let height = 0, highest = 0, lowest = 0, at = s.t1, extreme = s.p1, first = 0, lastOff = 0, steepest = 0, before = s.t1;
  for (let i = 0; i < n; i++) {
    const time = s.times[i] as number;
    const base = outer > 0 ? s.p1 + ((endPressure - s.p1) * (time - s.t1)) / outer : s.p1;
    const off = (s.pressures[i] as number) - base;
    if (i === 0) first = off;
    steepest = Math.max(steepest, Math.abs(off - lastOff) / spacing(before, time));
    before = time;
    lastOff = off;
    if (off > highest) highest = off;
    if (off < lowest) lowest = off;
    if (Math.abs(off) > Math.abs(height)) {
      height = off;
      at = time;
      extreme = s.pressures[i] as number;
    }
  }
  const size = Math.abs(height);
  // Stamps that jitter make a steep rise look ragged: what is small against the rise itself is not told.
  if (size < Math.max(tol, 3 * resolution, 5e-4 * set.reference, 0.5 * Math.abs(endPressure - s.p1))) {
    take(s, n, false, sink);
    return;
  }
  const away = spacing(s.t1, s.times[0] as number);
  const home = spacing(s.times[n - 1] as number, endTime);
  const { round, wide } = roundnessOf(withFlanks(s, n, interval), height > 0 ? 1 : -1, tol / 3);
  const kind = kindOf(set, {
    n, height, outer, round, wide,
    leaving: Math.abs(first) / size,
    returning: Math.abs(lastOff) / size,
    tooSteep: Math.abs(first) > set.slewLimit * away && Math.abs(lastOff) > set.slewLimit * home,
    bothWays: highest > 0.3 * size && -lowest > 0.3 * size,
    steep: Math.max(steepest, Math.abs(lastOff) / home) > set.slewLimit,
  });
  if (kind === 'real' || kind === 'perhaps real') {
    take(s, n, kind === 'perhaps real', sink);
    return;
  }
  drop(s, n);
  sink.glitch(at, extreme, height, outer, kind === 'perhaps glitch');
}

/** The `n` oldest held samples with the accepted ones before them and the two that came back. */
function withFlanks(s: GlitchState, n: number, interval: number): Pulse {
  const times: number[] = [], pressures: number[] = [];
  const before = [[s.t4, s.p4], [s.t3, s.p3], [s.t2, s.p2], [s.t1, s.p1]].slice(4 - s.known) as [number, number][];
  before.forEach(([time, pressure], i) => {
    // What lies before a silence is no flank.
    if (s.t1 - time > (before.length - i + 0.5) * interval) return;
    times.push(time);
    pressures.push(pressure);
  });
  times.push(...s.times.slice(0, n + 2));
  pressures.push(...s.pressures.slice(0, n + 2));
  return { times, pressures };
}

interface Shape {
  readonly n: number;
  readonly height: number;
  readonly outer: number;
  readonly round: Roundness;
  /** s: flanks and all. */
  readonly wide: number;
  /** First and last sample as a share of the height: 1 is a leap, small is a rounded flank. */
  readonly leaving: number;
  readonly returning: number;
  readonly tooSteep: boolean;
  readonly bothWays: boolean;
  /** Somewhere in it the pressure would have moved faster than water can. */
  readonly steep: boolean;
}

type Kind = 'glitch' | 'real' | 'perhaps glitch' | 'perhaps real';

function kindOf(set: GlitchSettings, x: Shape): Kind {
  const size = Math.abs(x.height);
  const lasts = x.wide > set.glitchWidth * 1.0001;
  if (x.round === 'pulse' && lasts) return 'real';
  if (x.tooSteep || (x.bothWays && (x.steep || x.outer <= set.glitchWidth * 1.0001))) return 'glitch';
  // Water that overshoots swings back, too: at a low sample rate that looks like this, and it may have been pressure.
  if (x.bothWays) return size < implausible * set.reference ? 'perhaps real' : 'perhaps glitch';
  const leaps = x.leaving >= 0.5 && x.returning >= 0.5;
  if (!leaps) return 'real';
  if (x.height > 0 && x.round === 'rounded' && lasts) return 'perhaps glitch';
  if (x.outer <= set.glitchWidth * 1.0001 || x.height < 0) return 'glitch';
  if (x.n === 1) return size > implausible * set.reference ? 'glitch' : size < believable * set.reference ? 'perhaps real' : 'perhaps glitch';
  return x.leaving >= 0.7 && x.returning >= 0.7 ? 'perhaps glitch' : 'perhaps real';
}
