import { addToLevel, courseBefore, forgetLevel, freshLevelBefore, onCourse, type Course, type LevelBeforeState } from './level-before.js';
import { noiseShape, stronger } from './noise-shape.js';
import type { SignalScale } from './signal-scale.js';

/**
 * The stage before the glitch filter: a stretch in which the signal is disturbed (a welder, a relay) though the pressure
 * does nothing. From the first reading that leaps out of a calm course on, readings wait until the signal is calm again.
 * Where they were noise about one level, which is the same before and after, they are told once and left out; everything
 * else goes on as it came. A stretch that is longer than `longest` is given up: what the pressure did there was not seen.
 */
export interface StretchSink {
  /** A reading that goes on. */
  pass(time: number, pressure: number): void;
  /** Noise about an unchanged level from `from` to `to` (s), left out; `height` (signed) and `pressure` bar of its extreme, `scatter` bar r.m.s. */
  disturbed(from: number, to: number, at: number, height: number, pressure: number, highest: number, scatter: number): void;
  /** Noise that went on for longer, left out: as if nothing had been read. */
  lost(from: number, to: number, at: number, height: number, pressure: number, highest: number, scatter: number): void;
}

export interface StretchSettings {
  /** s, the longest stretch that is left out and leaves the run to be decided. */ readonly longest: number;
  /** bar, the smallest change of level that counts. */ readonly slack: number;
  /** bar, that falls are judged against. */ readonly reference: number;
}

export interface StretchState {
  before: LevelBeforeState;
  /** bar: the last two readings, NaN before. */
  one: number;
  two: number;
  /** s: the last reading. */
  last: number;
  /** Readings that wait, oldest first, and how many of the newest were calm. */
  times: number[];
  pressures: number[];
  calm: number;
  /** How many of those that wait lie above both their neighbours, or below both. */
  turns: number;
  /** While readings wait: the course of before, and the noise of a reading then (bar). */
  course: Course | null;
  sigma: number;
  /** Of a stretch that has become too long: its begin and extreme; `null` else. */
  lost: { from: number; at: number; height: number; pressure: number; highest: number; scatter: number } | null;
}

export const freshStretch = (): StretchState => ({
  before: freshLevelBefore(), one: NaN, two: NaN, last: 0, times: [], pressures: [], calm: 0, turns: 0, course: null, sigma: 0, lost: null,
});

/** Noises of a reading that a second difference leaps by where the signal is disturbed; of white noise one in a thousand does. */
const leaps = 8;
/** Readings, and s, that must be calm before it is over. */
const calmReadings = 8;
const calmTime = 0.3;
/** s, and readings, after which it must look like noise. */
const firstLook = 0.5;
const firstReadings = 8;
/** Share of turns by which noise cannot be told from a stroke or ringing any more. */
const leastTurns = 0.3;
/** s between readings from which on such a stretch is a handful of readings. */
const tooSlow = 0.25;
/** Readings that wait at most, whatever the rate. */
const most = 8000;

/** Takes a good reading: s, bar. */
export function stepStretch(s: StretchState, set: StretchSettings, scale: SignalScale, time: number, pressure: number, sink: StretchSink): void {
  const bend = Math.abs(pressure - 2 * s.one + s.two);
  const leap = Math.max(leaps * (s.course === null ? scale.sigma : s.sigma), 3 * scale.resolution, 2e-4 * set.reference);
  s.two = s.one;
  s.one = pressure;
  s.last = time;
  if (s.course === null) {
    if (!(bend > leap) || scale.interval > tooSlow) {
      addToLevel(s.before, time, pressure);
      sink.pass(time, pressure);
      return;
    }
    s.sigma = scale.sigma;
    s.course = courseBefore(s.before, time, Math.max(2 * scale.sigma, scale.resolution));
    if (s.course === null) {
      addToLevel(s.before, time, pressure);
      sink.pass(time, pressure);
      return;
    }
    s.calm = 0;
    s.turns = 0;
  }
  const n = s.times.length;
  if (n > 1 && ((s.pressures[n - 1] as number) - (s.pressures[n - 2] as number)) * (pressure - (s.pressures[n - 1] as number)) < 0) s.turns++;
  s.times.push(time);
  s.pressures.push(pressure);
  s.calm = bend > leap ? 0 : s.calm + 1;
  follow(s, set, scale, time, sink);
}

/** The recording stops or pauses here: what waits goes on, and a stretch that was given up ends. */
export function flushStretch(s: StretchState, sink: StretchSink): void {
  if (s.lost !== null) tellLost(s, s.last, sink);
  passOn(s, sink);
  forgetLevel(s.before);
  s.one = NaN;
  s.two = NaN;
}

function follow(s: StretchState, set: StretchSettings, scale: SignalScale, time: number, sink: StretchSink): void {
  const n = s.times.length;
  const first = s.times[0] as number;
  // The second difference still leaps for two readings after the last that was disturbed.
  const quietFrom = n - s.calm;
  if (s.calm >= calmReadings && time - (s.times[quietFrom] as number) >= calmTime) {
    over(s, set, quietFrom, sink);
    return;
  }
  if (s.lost === null) {
    const hardlyTurns = s.turns < leastTurns * (quietFrom - 2);
    if (n >= firstReadings && time - first >= firstLook && s.calm < 3 && (hardlyTurns || departs(s, set, time))) {
      passOn(s, sink);
      return;
    }
    if ((s.times[Math.max(quietFrom - 1, 0)] as number) - first > set.longest || n > most) giveUp(s, set, sink);
    return;
  }
  if (s.calm < 3 && departs(s, set, time)) {
    tellLost(s, s.times[0] as number, sink);
    passOn(s, sink);
    return;
  }
  // Of a stretch that was given up only so much is kept as tells whether it has ended, and where its level now is.
  const keep = s.times.findIndex((t) => t >= time - firstLook - scale.interval * firstReadings);
  if (keep > n / 2) {
    s.times.splice(0, keep);
    s.pressures.splice(0, keep);
    s.course = levelOf(s);
  }
}

/** The level of what waits, taken to stay as it is. */
function levelOf({ times, pressures }: StretchState): Course {
  const n = times.length;
  let t = 0, p = 0;
  for (let i = 0; i < n; i++) {
    t += (times[i] as number) / n;
    p += (pressures[i] as number) / n;
  }
  return { at: t, level: p, slope: 0 };
}

/** Do the newest readings lie off the course? */
function departs(s: StretchState, set: StretchSettings, time: number): boolean {
  const course = s.course as Course;
  const n = s.times.length;
  let i = n - 1, sum = 0, squares = 0;
  for (; i >= 0 && (n - i <= firstReadings || time - (s.times[i] as number) < firstLook); i--) {
    const off = (s.pressures[i] as number) - onCourse(course, s.times[i] as number);
    sum += off;
    squares += off * off;
  }
  const m = n - 1 - i;
  const mean = sum / m;
  const scatter = Math.sqrt(Math.max(squares / m - mean * mean, 0));
  const allowed = 2 * set.slack + (s.lost === null ? 0 : 0.01 * set.reference);
  return Math.abs(mean) > (5 * scatter) / Math.sqrt(m) + allowed;
}

/** The signal is calm again from the reading `quiet` on. */
function over(s: StretchState, set: StretchSettings, quiet: number, sink: StretchSink): void {
  if (s.lost !== null) {
    tellLost(s, s.times[quiet] as number, sink);
    passOn(s, sink);
    return;
  }
  const level = levelAcross(s, set, quiet);
  if (level !== null) leaveOut(s, set, quiet, level, sink);
  passOn(s, sink);
}

/** Tells and drops what waits before the reading `quiet`, if it is noise about the level. */
function leaveOut(s: StretchState, set: StretchSettings, quiet: number, level: (time: number) => number, sink: StretchSink): void {
  let to = quiet;
  while (to > 0 && Math.abs((s.pressures[to - 1] as number) - level(s.times[to - 1] as number)) <= stronger * s.sigma) to--;
  const shape = noiseShape(s.times, s.pressures, 0, to, level, s.sigma, set.slack);
  if (shape === null) return;
  const highest = Math.max(...s.pressures.slice(0, to));
  sink.disturbed(s.times[0] as number, s.times[to - 1] as number, shape.at, shape.extreme, level(shape.at) + shape.extreme, highest, shape.scatter);
  s.times.splice(0, to);
  s.pressures.splice(0, to);
}

/**
 * The straight course from before to after; `null` where the level has changed. Settling may have slackened meanwhile, by
 * half in as long as a stretch may be; a loss that stopped altogether was made up for by somebody.
 */
function levelAcross(s: StretchState, set: StretchSettings, quiet: number): ((time: number) => number) | null {
  const course = s.course as Course;
  let t = 0, p = 0;
  const n = s.times.length - quiet;
  for (let i = quiet; i < s.times.length; i++) {
    t += (s.times[i] as number) / n;
    p += (s.pressures[i] as number) / n;
  }
  const led = onCourse(course, t);
  const allowed = Math.max(set.slack, 4 * s.sigma);
  const slackened = (course.level + led) / 2;
  if (p < Math.min(slackened, led) - allowed || p > Math.max(slackened, led) + allowed) return null;
  const slope = (p - course.level) / (t - course.at);
  return (time) => course.level + slope * (time - course.at);
}

/** It is longer than may be left out: noise is given up, anything else goes on. */
function giveUp(s: StretchState, set: StretchSettings, sink: StretchSink): void {
  const course = s.course as Course;
  const n = s.times.length;
  // A straight course does not hold for so long: the noise itself shows the level.
  const shape = noiseShape(s.times, s.pressures, 0, n, (time) => onCourse(course, time), s.sigma, 0.01 * set.reference);
  if (shape === null) {
    passOn(s, sink);
    return;
  }
  s.lost = {
    from: s.times[0] as number, at: shape.at, height: shape.extreme, pressure: onCourse(course, shape.at) + shape.extreme,
    highest: Math.max(...s.pressures), scatter: shape.scatter,
  };
  s.course = levelOf(s);
}

function tellLost(s: StretchState, to: number, sink: StretchSink): void {
  const { from, at, height, pressure, highest, scatter } = s.lost as NonNullable<StretchState['lost']>;
  s.lost = null;
  const left = s.times.findIndex((t) => t >= to);
  s.times.splice(0, left < 0 ? s.times.length : left);
  s.pressures.splice(0, left < 0 ? s.pressures.length : left);
  sink.lost(from, to, at, height, pressure, highest, scatter);
}

/** Hands on what waits. */
function passOn(s: StretchState, sink: StretchSink): void {
  s.course = null;
  for (let i = 0; i < s.times.length; i++) {
    addToLevel(s.before, s.times[i] as number, s.pressures[i] as number);
    sink.pass(s.times[i] as number, s.pressures[i] as number);
  }
  s.times.length = 0;
  s.pressures.length = 0;
}
