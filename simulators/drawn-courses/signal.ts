import type { Trace } from '../../src/core/trace.js';
import type { Random } from '../random.js';

/** How a course becomes readings. */
export interface Signal {
  /** Hz */ readonly rate: number;
  /** bar, upper end of the transducer. */ readonly range: number;
  /** bar */ readonly noise: number;
  /** bar, step of the readings. */ readonly step: number;
  /** bar, size of noise that lasts for about 20 s. */ readonly slowNoise: number;
  /** bar */ readonly zero: number;
  /** Share of an interval by which the moments of the readings are off. */ readonly jitter: number;
}

const ranges = [60, 100, 160, 250, 400, 600, 1000, 1600, 2500];

/** Draws a transducer and an input that suit a test pressure (bar). @param least Hz */
export function signalFor(random: Random, pressure: number, least: number): Signal {
  const range = ranges.find((r) => r >= 1.35 * pressure) ?? 4000;
  const step = random.pick([range / 4096, range / 65_536, 0.1, 0.01, range / 10_000]);
  return {
    rate: Math.max(least, random.pick([5, 10, 20, 50, 100, 100, 200, 500])),
    range,
    noise: range * Math.exp(random.between(Math.log(2e-5), Math.log(4e-4))),
    step: step > range / 2000 ? range / 4096 : step,
    slowNoise: random.chance(0.5) ? random.between(0, 1e-4) * range : 0,
    zero: random.normal() * 2e-4 * range,
    jitter: random.pick([0, 0, 0.1, 0.3]),
  };
}

/** Reads a course of `length` (s). @param lost whether the reading at a time is missing. @param wrong what stands there instead of the pressure, `null` for nothing. */
export function readings(
  random: Random, signal: Signal, length: number, pressure: (t: number) => number,
  lost: (t: number) => boolean = () => false, wrong: (index: number) => number | null = () => null,
): Trace {
  const { rate, noise, step, slowNoise, zero, jitter } = signal;
  const [time, values]: [number[], number[]] = [[], []];
  let slow = 0;
  for (let i = 0; i / rate < length; i++) {
    slow += -slow / (20 * rate) + random.normal() * Math.sqrt(2 / (20 * rate));
    const t = (i + jitter * (random.uniform() - 0.5)) / rate;
    if (lost(i / rate)) continue;
    const value = wrong(i) ?? pressure(Math.max(0, t)) + zero + noise * random.normal() + slowNoise * slow;
    time.push(Math.max(0, t));
    values.push(Math.round(value / step) * step);
  }
  return { time: Float64Array.from(time), pressure: Float64Array.from(values) };
}
