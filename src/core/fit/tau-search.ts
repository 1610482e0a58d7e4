import { boundedMinimum } from './bounded-minimum.js';
import type { DecayProfile, ProfilePoint } from './decay-profile.js';

/** The profile over tau. */
export interface TauSearch {
  /** The point of least rss. */
  readonly best: ProfilePoint;
  /** All points that were looked at, by tau: an even grid of log tau, denser across the minimum. */
  readonly points: readonly ProfilePoint[];
}

const gridSteps = 22;

/**
 * Looks for the best tau between two bounds (s): a grid of log tau, then Brent's method around its lowest point, then
 * points across the minimum so that its width can be summed up.
 * @param dof degrees of freedom of the residuals
 */
export function searchTau(profile: DecayProfile, tauMin: number, tauMax: number, dof: number): TauSearch {
  const low = Math.log(tauMin);
  const step = (Math.log(tauMax) - low) / gridSteps;
  const points: ProfilePoint[] = [];
  for (let k = 0; k <= gridSteps; k++) points.push(profile.at(Math.exp(low + k * step)));
  let best = lowest(points);
  const at = points.indexOf(best);

  const look = (x: number): number => {
    const point = profile.at(Math.exp(x));
    points.push(point);
    if (point.rss < best.rss) best = point;
    return point.rss;
  };
  boundedMinimum(look, low + Math.max(0, at - 1) * step, low + Math.min(gridSteps, at + 1) * step, 1e-6 * step);

  const width = widthAt(profile, best, dof);
  if (width < step) {
    const centre = Math.log(best.tau);
    for (let k = 1; k <= 8; k++) {
      for (const x of [centre - (k * width) / 2, centre + (k * width) / 2]) {
        if (x > low && x < low + gridSteps * step) look(x);
      }
    }
  }
  return { best, points: points.sort((a, b) => a.tau - b.tau) };
}

const lowest = (points: readonly ProfilePoint[]): ProfilePoint => points.reduce((a, b) => (b.rss < a.rss ? b : a));

/** Standard deviation of log tau from the curvature of the profile at its lowest point; Infinity without a minimum. */
function widthAt(profile: DecayProfile, best: ProfilePoint, dof: number): number {
  const step = 0.003;
  const up = profile.at(best.tau * Math.exp(step)).rss;
  const down = profile.at(best.tau * Math.exp(-step)).rss;
  const curvature = (up + down - 2 * best.rss) / (step * step);
  return curvature > 0 ? Math.sqrt((2 * best.rss) / (dof * curvature)) : Infinity;
}
