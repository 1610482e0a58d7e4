import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';

const plan = parsePlan({ plan: 'slow indicator', testPressure: '400 bar', holdTime: '60 s', minimumPressure: '390 bar' }, 'plan');

/** A panel indicator's trace: 20 s of rise, a still hold, and from `lostAt` (s) on what `lost` says of seconds since. */
function verdictOf(interval: number, phase: number, lost: (since: number) => number) {
  const lostAt = 70 + phase * interval;
  const time = Float64Array.from({ length: Math.round(120 / interval) }, (_, i) => i * interval);
  const pressure = time.map((t, i) => {
    const level = t < 5 ? 0 : t < 25 ? 20.4 * (t - 5) : 408 - 1.5 * (1 - Math.exp(-(t - 25) / 4));
    return Math.round((t < lostAt ? level : lost(t - lostAt) * level) * 10 + (i % 3) - 1) / 10;
  });
  const [outcome] = judge({ time, pressure }, plan, standardThresholds);
  return outcome?.verdict;
}

const phases = [0, 0.1, 0.25, 0.5, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95];

/** Both are common practice: a hose that comes off is empty within a tenth of a second, a needle valve takes seconds. */
describe.each([0.15, 0.2, 0.25, 0.3])('one reading every %d s', (interval) => {
  it.each(phases)('a burst is one wherever a reading falls into it (%d of an interval)', (phase) => {
    expect(verdictOf(interval, phase, (since) => 0.05 + 0.95 * Math.exp(-since / 0.03))).toBe('fail');
  });

  it.each(phases)('a quick vent is none (%d of an interval)', (phase) => {
    expect(verdictOf(interval, phase, (since) => Math.exp(-since / 0.6))).toBe('inconclusive');
  });
});
