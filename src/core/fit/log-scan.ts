/** Looking along a logarithmic scale for what is likely there. */
import { boundedMinimum } from './bounded-minimum.js';

/** One place of the scale with what was found there, and how much of the scale it stands for. */
export interface Scanned<T> {
  /** Logarithm of the quantity. */
  readonly x: number;
  readonly found: T;
  /** Length of the scale between the middles to its neighbours. */
  readonly share: number;
}

/**
 * A grid from `low` to `high`, then the lowest place, then more of them across it where it is narrower than the grid, so
 * that its width can be summed up.
 * @param look what is found at x; `rss` is a sum of squares
 * @param variance what a rise of `rss` is measured by
 * @returns by x, ascending
 */
export function scanLog<T extends { readonly rss: number }>(look: (x: number) => T, low: number, high: number, steps: number, variance: number): Scanned<T>[] {
  const seen: { readonly x: number; readonly found: T }[] = [];
  const at = (x: number): number => {
    const found = look(x);
    seen.push({ x, found });
    return found.rss;
  };
  const step = (high - low) / steps;
  for (let k = 0; k <= steps; k++) at(low + k * step);
  const lowest = () => seen.reduce((a, b) => (b.found.rss < a.found.rss ? b : a));
  const near = Math.round((lowest().x - low) / step);
  boundedMinimum(at, low + Math.max(0, near - 1) * step, low + Math.min(steps, near + 1) * step, 0.02 * step);
  const { x: best, found } = lowest();

  const spread = Math.min(step / 2, 0.05);
  const curvature = (at(best + spread) + at(best - spread) - 2 * found.rss) / spread ** 2;
  const width = curvature > 0 ? Math.sqrt((2 * variance) / curvature) : Infinity;
  for (let k = 1; k <= 4 && width < step; k++) for (const x of [best - (k * width) / 2, best + (k * width) / 2]) if (x > low && x < high) at(x);

  seen.sort((a, b) => a.x - b.x);
  return seen.map((place, i) => ({ ...place, share: ((seen[i + 1]?.x ?? place.x) - (seen[i - 1]?.x ?? place.x)) / 2 }));
}
