import { median } from '../fit/statistics.js';
import { endStroke, freshStroke, stepStroke, type StrokeState } from './stroke-detector.js';

/**
 * Strokes during the hold that are each too small to be a top-up, and together keep up with a leak: a pump left running,
 * an operator who feathers it. One small rise is nothing to go by. Many are, where they are lopsided: a pump lifts the
 * pressure in a jerk and the leak takes it down slowly, while noise, hum and a shaking floor go both ways alike.
 */
export interface SmallStrokes {
  /** The same detector on the pressure, and on the pressure upside down. */
  readonly up: StrokeState;
  readonly down: StrokeState;
  rises: SmallRise[];
  /** bar, sum of the rises that wait to be told. */
  waiting: number;
  rising: number;
  falling: number;
  /** s: how long the newest of them took. */
  risingTimes: number[];
  fallingTimes: number[];
  /** What the rises are is known: each further one counts at once. */
  pumped: boolean;
}

/** s, s, bar, bar */
export interface SmallRise {
  readonly from: number;
  readonly to: number;
  readonly rise: number;
  readonly start: number;
}

/** Fewest rises that are lopsided beyond chance, and how many more they must be than the falls: even odds give it once in 16, and that only where something moves the pressure at all. */
const fewest = 4;
const timesAsMany = 4;
/** Beside as many falls it is a saw where the rises take a smaller share of the time than the falls: the fewer, the smaller. */
const saws = [{ fewest: 10, quicker: 0.5 }, { fewest: 6, quicker: 0.33 }];
/** Rises that wait to be told, and times that are kept. */
const mostWaiting = 400;
const keptTimes = 64;
/** Steps of the reading: a slow rise of coarse readings comes in steps, too. */
const steps = 1.5;

export const freshSmallStrokes = (): SmallStrokes => ({
  up: freshStroke(), down: freshStroke(), rises: [], waiting: 0, rising: 0, falling: 0, risingTimes: [], fallingTimes: [], pumped: false,
});

export interface SmallStrokeSettings {
  /** bar: larger rises are told by themselves, and as much must be added in all. */
  readonly topUpHeight: number;
  /** s */
  readonly spikeWidth: number;
}

/**
 * Takes a bin of the hold: middle time (s), mean (bar), noise of the mean (bar), smallest step of the readings (bar).
 * @returns the rises that have become known to be strokes, oldest first
 */
export function stepSmallStrokes(s: SmallStrokes, { topUpHeight, spikeWidth }: SmallStrokeSettings, time: number, mean: number, sigma: number, resolution: number): readonly SmallRise[] {
  const set = { strokeHeight: Math.max(steps * resolution, 1e-9), spikeWidth };
  stepStroke(s.up, set, time, mean, sigma, (from, to, rise, start) => {
    keep(s.risingTimes, to - from);
    s.rising++;
    if (rise >= topUpHeight || s.rises.length >= mostWaiting) return;
    s.rises.push({ from, to, rise, start });
    s.waiting += rise;
  });
  stepStroke(s.down, set, time, -mean, sigma, (from, to) => {
    keep(s.fallingTimes, to - from);
    s.falling++;
  });
  s.pumped ||= s.waiting >= topUpHeight && lopsided(s);
  if (!s.pumped || s.rises.length === 0) return none;
  const told = s.rises;
  s.rises = [];
  s.waiting = 0;
  return told;
}

const none: readonly SmallRise[] = [];

function lopsided({ rising, falling, risingTimes, fallingTimes }: SmallStrokes): boolean {
  if (rising < fewest) return false;
  if (rising >= fewest + timesAsMany * falling) return true;
  return saws.some((saw) => rising >= saw.fewest && falling >= saw.fewest / 2 && median(risingTimes) <= saw.quicker * median(fallingTimes));
}

function keep(times: number[], time: number): void {
  times.push(time);
  if (times.length > keptTimes) times.shift();
}

/** A silence: what goes on cannot be followed across it. */
export function breakSmallStrokes(s: SmallStrokes): void {
  const ignore = () => undefined;
  for (const state of [s.up, s.down]) endStroke(state, { strokeHeight: Infinity, spikeWidth: 0 }, ignore);
}
