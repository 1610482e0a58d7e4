/** An exponentially weighted moving average with its limits. */
export interface EwmaChart {
  /** One for each value, that value included. */
  readonly averages: readonly number[];
  readonly upper: number;
  readonly lower: number;
}

export interface EwmaOptions {
  /** Weight of the newest value, above 0 up to 1. Small weights see small shifts sooner. */
  readonly weight: number;
  /** Where it begins, and what it should stay at. */
  readonly target: number;
  /** Standard deviation of the single values. */
  readonly sigma: number;
  /** Width of the limits, in standard deviations of the average. */
  readonly width: number;
}

/**
 * An EWMA chart (NIST/SEMATECH e-Handbook 6.3.2.4): each average is weight * value + (1 - weight) * the one before; the
 * limits are those that it comes to once the start no longer counts. It sees a slow drift, such as the wear of a tool,
 * before a single value leaves its own limits.
 */
export function ewmaChart(values: readonly number[], { weight, target, sigma, width }: EwmaOptions): EwmaChart {
  if (!(weight > 0 && weight <= 1)) throw new RangeError(`a weight is above 0 and at most 1, got ${weight}`);
  let average = target;
  const averages = values.map((value) => (average = weight * value + (1 - weight) * average));
  const reach = width * sigma * Math.sqrt(weight / (2 - weight));
  return { averages, upper: target + reach, lower: target - reach };
}
