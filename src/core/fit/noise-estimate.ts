import { binnedShape, type NoiseShape, whiteNoise, type Whitener } from './correlated-noise.js';
import { normalise, project } from './decay-profile.js';

/** Longest correlation looked for: what is left after one bin. */
const longest = 0.995;

/**
 * Correlation of the noise around a linear model, by restricted maximum likelihood (Harville, Journal of the American
 * Statistical Association 72 (1977) 320): unlike the correlation of the residuals it is not pulled to zero by the
 * columns that were fitted.
 * @param columns the columns of the model, not whitened
 * @param count typical number of samples in a bin
 * @returns the shape; the whitener is left with it
 */
export function estimateNoise(
  whitener: Whitener,
  columns: readonly Float64Array[],
  pressure: Float64Array,
  count: number,
): NoiseShape {
  const n = pressure.length;
  const scratch = columns.map(() => new Float64Array(n));
  const rest = new Float64Array(n);

  const cost = (shape: NoiseShape): number => {
    if (!whitener.shape(shape)) return Infinity;
    let logDeterminant = whitener.logDeterminant;
    scratch.forEach((column, j) => {
      whitener.whiten(columns[j] as Float64Array, column);
      for (let m = 0; m < j; m++) project(scratch[m] as Float64Array, column);
      logDeterminant += 2 * Math.log(normalise(column));
    });
    whitener.whiten(pressure, rest);
    for (const column of scratch) project(column, rest);
    let rss = 0;
    for (let i = 0; i < n; i++) rss += (rest[i] as number) ** 2;
    return (n - columns.length) * Math.log(rss) + logDeterminant;
  };

  const shapeOf = (decay: number): NoiseShape => binnedShape(decay, count);
  let best = 0;
  let least = cost(whiteNoise);
  const grid = [0.03, 0.1, 0.2, 0.35, 0.5, 0.65, 0.8, 0.9, 0.96];
  for (const decay of grid) {
    const value = cost(shapeOf(decay));
    if (value < least) {
      least = value;
      best = decay;
    }
  }
  const at = grid.indexOf(best);
  let low = at <= 0 ? 0 : (grid[at - 1] as number);
  let high = at < 0 ? (grid[0] as number) : (grid[at + 1] ?? longest);
  const ratio = (Math.sqrt(5) - 1) / 2;
  let left = high - ratio * (high - low);
  let right = low + ratio * (high - low);
  let costLeft = cost(shapeOf(left));
  let costRight = cost(shapeOf(right));
  for (let step = 0; step < 9; step++) {
    if (costLeft < costRight) {
      [high, right, costRight] = [right, left, costLeft];
      left = high - ratio * (high - low);
      costLeft = cost(shapeOf(left));
    } else {
      [low, left, costLeft] = [left, right, costRight];
      right = low + ratio * (high - low);
      costRight = cost(shapeOf(right));
    }
  }
  const found = costLeft < costRight ? left : right;
  const shape = Math.min(costLeft, costRight) < cost(whiteNoise) ? shapeOf(found) : whiteNoise;
  whitener.shape(shape);
  return shape;
}
