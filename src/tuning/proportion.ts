import { incompleteBeta } from '../core/fit/student-t.js';

/** A count out of a number of runs, with the interval in which the true share lies. */
export interface Proportion {
  readonly count: number;
  readonly of: number;
  /** `null` of none. */
  readonly share: number | null;
  /** Ends of the 95 % interval, 0 to 1. */
  readonly lower: number;
  readonly upper: number;
}

/** A proportion with its exact 95 % interval. */
export const proportion = (count: number, of: number): Proportion => ({
  count, of, share: of === 0 ? null : count / of, ...exactInterval(count, of),
});

/**
 * Exact interval of a share (Clopper and Pearson, Biometrika 26 (1934) 404): never narrower than its confidence, which
 * matters where a false pass was never seen: 0 of 30 still leaves up to 12 %.
 */
export function exactInterval(count: number, of: number, confidence = 0.95): { readonly lower: number; readonly upper: number } {
  const tail = (1 - confidence) / 2;
  // P(at least `count`) at share p is I_p(count, of - count + 1).
  return {
    lower: count === 0 ? 0 : shareWhere((p) => incompleteBeta(p, count, of - count + 1), tail),
    upper: count === of ? 1 : shareWhere((p) => incompleteBeta(p, count + 1, of - count), 1 - tail),
  };
}

/** Where a function that rises from 0 to 1 takes a value, by halving. */
function shareWhere(f: (p: number) => number, value: number): number {
  let [low, high] = [0, 1];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (f(middle) < value) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
