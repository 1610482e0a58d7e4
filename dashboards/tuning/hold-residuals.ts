import { curveAt, liftedBy, type HoldDetail } from '../../src/core/hold-detail.js';
import type { FoundEvent } from '../../src/core/outcome.js';
import type { ParcelSamples } from '../../src/server/run-parcel.js';

/** What is left of the readings of a hold once the curve of the fit is taken off. */
export interface HoldResiduals {
  /** s on the trace's clock, rising. */ readonly time: Float64Array;
  /** bar */ readonly off: Float64Array;
  /** bar, root of the mean square. */ readonly rms: number;
  /** s, usual spacing. */ readonly interval: number;
  /** Residuals of the averages that the fit saw. */
  readonly averages: { readonly time: Float64Array; readonly off: Float64Array };
}

/**
 * Good readings less the curve, where it holds; glitches and strokes are left out, as the fit left them out, and what a stroke
 * lifted is taken off.
 * @returns `null` where there is no curve, or fewer than 16 readings
 */
export function holdResiduals({ time, pressure, flags }: ParcelSamples, hold: HoldDetail, events: readonly FoundEvent[]): HoldResiduals | null {
  const { curve } = hold;
  if (curve === null) return null;
  const near = events.filter(({ at }) => at >= curve.from - 1 && at <= curve.to + 1);
  const glitches = near.filter(({ kind }) => kind === 'glitch');
  const strokes = near.filter(({ kind }) => kind === 'top-up');
  const wild = (t: number): boolean => glitches.some(({ at, width = 0 }) => Math.abs(t - at) <= width + 1e-6) || strokes.some(({ at, width = 0 }) => t >= at - 0.1 && t <= at + width + 0.5);
  const [times, offs]: [number[], number[]] = [[], []];
  let square = 0;
  let last = -Infinity;
  for (let i = 0; i < time.length; i++) {
    const t = time[i] as number;
    if (!(t >= curve.from && t <= curve.to) || t <= last || flags[i] !== 0 || wild(t)) continue;
    const off = (pressure[i] as number) - liftedBy(hold, t) - curveAt(curve, t);
    if (!Number.isFinite(off)) continue;
    times.push(t);
    offs.push(off);
    square += off * off;
    last = t;
  }
  if (times.length < 16) return null;
  const steps = times.slice(1).map((t, i) => t - (times[i] as number)).sort((a, b) => a - b);
  const kept = hold.averages.time.flatMap((t, i) => (t >= curve.from ? [i] : []));
  return {
    time: Float64Array.from(times),
    off: Float64Array.from(offs),
    rms: Math.sqrt(square / times.length),
    interval: steps[steps.length >> 1] as number,
    averages: {
      time: Float64Array.from(kept, (i) => hold.averages.time[i] as number),
      off: Float64Array.from(kept, (i) => (hold.averages.pressure[i] as number) - curveAt(curve, hold.averages.time[i] as number)),
    },
  };
}

/** The residuals on an even grid, as a spectrum needs them: between neighbours by a straight line, 0 where none is near. */
export function onGrid({ time, off, interval }: HoldResiduals): Float64Array {
  const start = time[0] as number;
  const n = Math.floor(((time[time.length - 1] as number) - start) / interval + 0.5) + 1;
  const grid = new Float64Array(n);
  let i = 0;
  for (let k = 0; k < n; k++) {
    const t = start + k * interval;
    while (i < time.length - 2 && (time[i + 1] as number) <= t) i++;
    const [t0, t1] = [time[i] as number, time[i + 1] as number];
    if (t1 - t0 > 3 * interval) {
      if (t - t0 < interval / 2) grid[k] = off[i] as number;
      else if (t1 - t < interval / 2) grid[k] = off[i + 1] as number;
      continue;
    }
    const share = Math.min(Math.max((t - t0) / (t1 - t0), 0), 1);
    grid[k] = (off[i] as number) * (1 - share) + (off[i + 1] as number) * share;
  }
  return grid;
}
