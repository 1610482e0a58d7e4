import { describe, expect, it } from 'vitest';
import { limitBar, limitOf } from '../../src/core/judging/showing.js';

/** FC-54: shown and judged values agree; a limit is no reading, so the steps of the readings do not round it. */
describe('a limit, bar', () => {
  it.each([
    [600, 0.1, '600.0 bar'], [600, 0.01, '600.00 bar'], [600, 1, '600 bar'], [2.15, 3.9, '2.15 bar'], [1187.2, 0.117, '1187.2 bar'],
    [2.15, 0.0039, '2.15 bar'], [5.5672, 0.01, '5.57 bar'], [5.5672, 0.25, '5.57 bar'], [0.125, 0.001, '0.125 bar'], [541.9425, 0.1, '541.94 bar'],
  ])('of %s beside readings in steps of %s is shown as %s', (limit, step, shown) => {
    expect(limitBar(limit, step)).toBe(shown);
    expect(limitOf(limit, step)).toBeCloseTo(Number(shown.replace(' bar', '')), 9);
  });
});
