/** Centre and limits of a chart of single values, with those of its moving range (the step from value to value). */
export interface IndividualsLimits {
  readonly centre: number;
  /** Standard deviation as the steps from value to value show it: a slow drift does not widen it. */
  readonly sigma: number;
  readonly upper: number;
  readonly lower: number;
  readonly meanRange: number;
  readonly upperRange: number;
}

/** Expected range of two values of a normal distribution, in standard deviations: 2/sqrt(pi). Tables print 1.128. */
export const d2 = 2 / Math.sqrt(Math.PI);
/** Upper limit of a range of two values in mean ranges. Tables print 3.267 (common practice). */
const d4 = 3.267;

/** Steps from value to value, without sign; one fewer than there are values. */
export const movingRanges = (values: readonly number[]): number[] => values.slice(1).map((value, i) => Math.abs(value - (values[i] ?? value)));

/**
 * Limits of an individuals and moving-range chart (NIST/SEMATECH e-Handbook 6.3.2.2): centre ± 3 mean ranges / 1.128.
 * @param values in the order in which they were taken
 * @returns `null` with fewer than two values: then there is no step to measure
 */
export function individualsLimits(values: readonly number[]): IndividualsLimits | null {
  if (values.length < 2) return null;
  const centre = mean(values);
  const meanRange = mean(movingRanges(values));
  const sigma = meanRange / d2;
  return { centre, sigma, upper: centre + 3 * sigma, lower: centre - 3 * sigma, meanRange, upperRange: d4 * meanRange };
}

const mean = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0) / values.length;
