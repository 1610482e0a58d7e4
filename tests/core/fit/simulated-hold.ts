/** Holds with known truth for the fit's tests: the model's curve with AR(1) noise, rounded, then averaged into bins. */
import type { Bins } from '../../../src/core/fit/bins.js';

/** Uniform numbers from a seed (a 32 bit counter, mixed), and normal ones from them (Box and Muller). */
export function randomNumbers(seed: number): { uniform: () => number; normal: () => number } {
  let state = seed >>> 0;
  const uniform = (): number => {
    state = (state + 0x9e3779b9) >>> 0;
    let z = state;
    z = Math.imul(z ^ (z >>> 16), 0x21f0aaad);
    z = Math.imul(z ^ (z >>> 15), 0x735a2d97);
    return ((z ^ (z >>> 15)) >>> 0) / 4294967296 + 2 ** -33;
  };
  return { uniform, normal: () => Math.sqrt(-2 * Math.log(uniform())) * Math.cos(2 * Math.PI * uniform()) };
}

export interface Hold {
  /** bar */ readonly sigma: number;
  /** Correlation from sample to sample. */ readonly rho: number;
  /** s */ readonly length: number;
  /** Hz */ readonly rate: number;
  /** bar */ readonly c: number;
  /** s */ readonly tau: number;
  /** bar/min, positive when pressure is lost. */ readonly leak: number;
  /** bar, step of the readings; 0 for none. */ readonly step: number;
  /** Something more in the pressure, bar at a time from the start. */
  readonly more?: (t: number) => number;
}

export const plainHold: Hold = { sigma: 0.1, rho: 0, length: 60, rate: 20, c: 5, tau: 8, leak: 1, step: 0 };

export const sampleTimes = ({ length, rate }: Hold): Float64Array =>
  Float64Array.from({ length: Math.round(length * rate) }, (_, i) => i / rate);

/** One recording of the hold, in at most `most` bins of equal count. */
export function recorded(hold: Hold, normal: () => number, most = 300): Bins {
  const time = sampleTimes(hold);
  const fresh = hold.sigma * Math.sqrt(1 - hold.rho ** 2);
  let noise = hold.sigma * normal();
  const count = Math.ceil(time.length / most);
  const bins = Math.ceil(time.length / count);
  const columns = { time: new Float64Array(bins), pressure: new Float64Array(bins), weight: new Float64Array(bins) };
  time.forEach((t, i) => {
    if (i > 0) noise = hold.rho * noise + fresh * normal();
    const pressure = 550 - (hold.leak / 60) * t + hold.c * Math.exp(-t / hold.tau) + (hold.more?.(t) ?? 0) + noise;
    const reading = hold.step > 0 ? Math.round(pressure / hold.step) * hold.step : pressure;
    const j = Math.floor(i / count);
    columns.time[j] = (columns.time[j] ?? 0) + t;
    columns.pressure[j] = (columns.pressure[j] ?? 0) + reading - 550;
    columns.weight[j] = (columns.weight[j] ?? 0) + 1;
  });
  columns.weight.forEach((w, j) => {
    columns.time[j] = (columns.time[j] ?? 0) / w;
    columns.pressure[j] = 550 + (columns.pressure[j] ?? 0) / w;
  });
  return columns;
}
