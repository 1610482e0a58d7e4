/** Zeros written for readings that were lost (FC-10 and FC-47 are of this kind), and falls to nothing that are none. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { RunReader } from '../../src/core/run-reader.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { Flag, traceOf, type Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'zeros', testPressure: '500 bar', holdTime: '60 s', minimumPressure: '480 bar', ceilingPressure: '540 bar' }, 'p');

/** Sound: ten strokes, settling, held, vented. The vented reading lies at `zero` bar. */
function sound({ interval = 0.05, sigma = 0.05, resolution = 0.01, zero = 0.4 } = {}): Trace {
  const b = new TraceBuilder(interval, sigma, resolution).level(10, zero);
  for (let k = 0; k < 10; k++) b.ramp(0.3, zero + 50.3 * k, zero + 50.3 * (k + 1)).level(0.7, zero + 50.3 * (k + 1));
  return b.shape(110, (t) => 502 + Math.exp(-t / 4)).ramp(1, 502, zero).level(20, zero).trace;
}
const rewritten = (trace: Trace, from: number, to: number, pressure: (time: number) => number): Trace =>
  traceOf([...trace.time], Array.from(trace.time, (t, i) => (t >= from && t < to ? pressure(t) : (trace.pressure[i] as number))));
const all = (trace: Trace): Outcome[] => judge(trace, plan, standardThresholds);
const said = (outcome: Outcome | undefined): string => [...(outcome?.notes ?? []), ...(outcome?.findings ?? []).map(({ sentence }) => sentence)].join('\n');

describe('readings of exactly 0 between two that are high', () => {
  it.each([[70, 0.5, 'pass'], [70, 4, 'inconclusive'], [26, 2, 'inconclusive'], [17, 0.5, 'pass']])('from %s s for %s s are lost ones, and no burst: %s', (from, length, verdict) => {
    const outcomes = all(rewritten(sound(), from, from + length, () => 0));
    expect(outcomes.map((outcome) => outcome.verdict)).toEqual([verdict]);
    expect(said(outcomes[0])).toMatch(/readings were exactly 0 from \d+\.\d s to \d+\.\d s, and the pressure was back at \d+\.\d+ bar at once: taken for lost readings/);
    expect(outcomes[0]?.events.map(({ kind }) => kind)).not.toContain('burst');
  });

  it('of a quiet gauge whose vented reading lies elsewhere are lost ones', () => {
    const outcomes = all(rewritten(sound({ sigma: 0.02, resolution: 0.5, zero: 1 }), 70, 73, () => 0));
    expect(outcomes.map((outcome) => outcome.verdict)).toEqual(['inconclusive']);
    expect(said(outcomes[0])).not.toContain('burst or came off');
  });
});

describe('a fall to nothing', () => {
  const burst = (pressure: (time: number) => number, trace = sound()) => rewritten(trace, 70, 1000, pressure);

  it('with the noise of the vented reading is a burst, told with the next reading that is not 0', () => {
    let at = NaN;
    let now = NaN;
    const reader = new RunReader({ plan, thresholds: standardThresholds }, { runStarted: () => undefined, found: ({ kind }) => void (kind === 'burst' && (at = now)), runEnded: () => undefined });
    const { time, pressure } = burst((t) => Number((0.05 * Math.round(3 * Math.sin(50 * t))).toFixed(2)));
    time.forEach((t, i) => reader.step((now = t), pressure[i] as number, Flag.good));
    expect(at).toBeLessThan(71);
  });

  it.each<[string, Trace]>([
    ['of readings that stay at exactly 0', burst(() => 0)],
    ['of a gauge that shows exactly 0 when vented', burst(() => 0, sound({ sigma: 0.05, resolution: 0.5, zero: 0 }))],
    ['and a recording that ends soon', traceOf([...burst(() => 0).time].filter((t) => t < 73), [...burst(() => 0).pressure].slice(0, [...burst(() => 0).time].filter((t) => t < 73).length))],
    ['and pressure that is pumped up again', burst((t) => (t < 74 ? 0 : Math.min(505, 20 + 40 * (t - 74))))],
  ])('%s is a burst', (_, trace) => {
    const [first] = all(trace);
    expect(first?.verdict).toBe('fail');
    expect(said(first)).toContain('burst or came off');
  });
});
