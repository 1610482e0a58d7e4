import { randomFor } from '../random.js';

/** Samples of one bench, column by column. */
export interface FleetTrace {
  /** s */ readonly time: Float64Array;
  /** bar, in steps of 0.01 */ readonly pressure: Float64Array;
}

/** s of one pressurisation with the time to the next. */
const period = 120;

/**
 * What a bench of a fleet records: one pressurisation after another, each rising in strokes, settling, holding with a
 * slow leak and vented, with 0.02 bar of noise. Cheap, for many benches at once; its hydraulics are no more than a shape.
 * @param rate readings a second @param from s, time of the first
 */
export function fleetTrace(bench: number, seconds: number, rate: number, from: number, seed = 1): FleetTrace {
  const random = randomFor(`fleet bench ${bench}`, seed);
  const [target, leak, late] = [random.between(300, 900), random.between(0, 0.02), random.between(0, period)];
  const count = Math.round(seconds * rate);
  const time = new Float64Array(count);
  const pressure = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    const t = i / rate;
    time[i] = Math.round((from + t) * 1e6) / 1e6;
    pressure[i] = Math.round((shape((t + late) % period, target, leak) + 0.02 * random.normal()) * 100) / 100;
  }
  return { time, pressure };
}

/** bar, `t` seconds into a period. */
function shape(t: number, target: number, leak: number): number {
  if (t < 10) return 0.3;
  if (t < 40) return target * Math.min(1, (Math.floor((t - 10) * 2) + Math.min(1, (((t - 10) * 2) % 1) * 4)) / 60);
  if (t < 105) return target - 4 * (1 - Math.exp(-(t - 40) / 9)) - leak * (t - 40);
  return 0.3 + (target - 8) * Math.exp(-(t - 105) / 0.6);
}
