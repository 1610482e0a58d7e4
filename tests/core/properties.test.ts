import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { feed, judge } from '../../src/core/judge.js';
import type { Outcome, Verdict } from '../../src/core/outcome.js';
import { parsePlan, type Plan } from '../../src/core/plan.js';
import { RunReader } from '../../src/core/run-reader.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import { traceOf, type Trace } from '../../src/core/trace.js';
import { barPer } from '../../src/core/units.js';
import { TraceBuilder } from '../traces.js';

// Short settings keep the traces small; the laws do not depend on them.
const thresholds = parseThresholds({ quietTime: '3 s', settleWindow: '3 s', settleTimeout: '20 s', flatlineTime: '60 s' }, 't');
const planWith = (more: Record<string, unknown> = {}): Plan =>
  parsePlan({ plan: 'law', testPressure: '550 bar', holdTime: '8 s', minimumPressure: '530 bar', maximumDrop: '3 %', ceilingPressure: '600 bar', leakLimit: '60 bar/min', ...more }, 'p');

/** A run with a leak, a spike and an end of many kinds; what it comes to is not the point here. */
const anyRun = fc.record({
  seed: fc.integer({ min: 1, max: 1e6 }),
  interval: fc.constantFrom(0.02, 0.05, 0.1, 0.2),
  sigma: fc.constantFrom(0.02, 0.1, 0.5),
  top: fc.constantFrom(520, 548, 552, 560, 590, 605),
  settling: fc.constantFrom(0, 3, 12),
  leak: fc.constantFrom(0, 0.05, 0.5, 3),
  hold: fc.constantFrom(5, 14, 22),
  end: fc.constantFrom('vent', 'burst', 'cut'),
});
type Run = typeof anyRun extends fc.Arbitrary<infer T> ? T : never;

function record(r: Run): Trace {
  const b = new TraceBuilder(r.interval, r.sigma, 0.1, r.seed).level(4, 0).ramp(6, 0, r.top);
  const at = (t: number) => r.top - r.settling * (1 - Math.exp(-t / 3)) - r.leak * t;
  b.shape(r.hold, at);
  if (r.end === 'vent') b.shape(3, (t) => at(r.hold) * (1 - t / 3) ** 2).level(4, 0);
  if (r.end === 'burst') b.values(at(r.hold) * 0.4, 20, 2).level(4, 0);
  return b.trace;
}

const run = (trace: Trace, plan = planWith()): Outcome[] => judge(trace, plan, thresholds);
const verdicts = (outcomes: Outcome[]): Verdict[] => outcomes.map((o) => o.verdict);
const options = { numRuns: 40 };

describe('laws of judging', () => {
  it('when the recording began changes nothing but the times', () => {
    fc.assert(fc.property(anyRun, fc.nat(1_000_000), (r, late) => {
      const trace = record(r);
      const moved: Trace = { ...trace, time: trace.time.map((t) => t + late) };
      const [a, b] = [run(trace), run(moved)];
      expect(verdicts(b)).toEqual(verdicts(a));
      expect(b.map((o) => o.cycles.map((c) => [c.peak, c.holdStartPressure, c.holdMinimum, c.drop, c.strokes])))
        .toEqual(a.map((o) => o.cycles.map((c) => [c.peak, c.holdStartPressure, c.holdMinimum, c.drop, c.strokes])));
      a.forEach((o, i) => o.cycles.forEach((c, j) => {
        const settled = b[i]?.cycles[j]?.settled ?? null;
        // The moment is told in microseconds of a clock that shows later times: its last digit may be rounded the other way.
        expect(settled === null).toBe(c.settled === null);
        expect(Math.abs((settled ?? 0) - (c.settled === null ? 0 : late + c.settled))).toBeLessThan(3e-6);
      }));
    }), options);
  });

  it('how the stream is cut into batches changes not one byte', () => {
    fc.assert(fc.property(anyRun, fc.array(fc.integer({ min: 1, max: 97 }), { minLength: 1, maxLength: 8 }), (r, cuts) => {
      const trace = record(r);
      const whole = JSON.stringify(run(trace));
      const outcomes: Outcome[] = [];
      const reader = new RunReader({ plan: planWith(), thresholds }, { runStarted: () => undefined, found: () => undefined, runEnded: (f) => outcomes.push(f.outcome) });
      for (let i = 0, k = 0; i < trace.time.length; k++) {
        const n = cuts[k % cuts.length] as number;
        feed(reader, traceOf(trace.time.slice(i, i + n), trace.pressure.slice(i, i + n)));
        i += n;
        reader.view();
      }
      reader.end();
      if (outcomes.length > 0) expect(JSON.stringify(outcomes)).toBe(whole);
    }), options);
  });

  it('a reader taken up from a snapshot at any sample goes on as if nothing had happened', () => {
    fc.assert(fc.property(anyRun, fc.array(fc.double({ min: 0, max: 1, noNaN: true }), { minLength: 1, maxLength: 4 }), (r, places) => {
      const trace = record(r);
      const outcomes: Outcome[] = [];
      const fresh = () => new RunReader({ plan: planWith(), thresholds }, { runStarted: () => undefined, found: () => undefined, runEnded: (f) => outcomes.push(f.outcome) });
      let reader = fresh();
      const stops = new Set(places.map((p) => Math.floor(p * trace.time.length)));
      for (let i = 0; i < trace.time.length; i++) {
        if (stops.has(i)) {
          const state = reader.snapshot();
          reader = fresh();
          reader.restore(state);
        }
        reader.step(trace.time[i] as number, trace.pressure[i] as number, 0);
      }
      reader.end();
      if (outcomes.length > 0) expect(JSON.stringify(outcomes)).toBe(JSON.stringify(run(trace)));
    }), options);
  });

  it('the unit that pressures came in changes no verdict', () => {
    fc.assert(fc.property(anyRun, fc.constantFrom('psi' as const, 'MPa' as const, 'kPa' as const), (r, unit) => {
      const trace = record(r);
      const through: Trace = { ...trace, pressure: trace.pressure.map((p) => (p / barPer(unit)) * barPer(unit)) };
      expect(verdicts(run(through))).toEqual(verdicts(run(trace)));
    }), options);
  });

  it('a glitch inside the band never makes a pass', () => {
    fc.assert(fc.property(anyRun, fc.double({ min: 0.1, max: 0.9, noNaN: true }), fc.constantFrom(-14, 14, 30), (r, where, height) => {
      const trace = record(r);
      const before = verdicts(run(trace));
      const pressure = trace.pressure.slice();
      const i = Math.floor(where * pressure.length);
      pressure[i] = (pressure[i] as number) + height;
      const after = verdicts(run({ ...trace, pressure }));
      before.forEach((v, k) => { if (v !== 'pass') expect(after[k]).not.toBe('pass'); });
    }), options);
  });

  it('a wider limit never turns a pass into a fail', () => {
    fc.assert(fc.property(anyRun, (r) => {
      const trace = record(r);
      const tight = verdicts(run(trace));
      const wide = verdicts(run(trace, planWith({ ceilingPressure: '640 bar', maximumDrop: '5 %', leakLimit: '90 bar/min' })));
      tight.forEach((v, k) => { if (v === 'pass') expect(wide[k]).not.toBe('fail'); });
    }), options);
  });

  it('samples taken out of the hold never make a pass of what was undecided', () => {
    fc.assert(fc.property(anyRun, fc.integer({ min: 1, max: 60 }), (r, n) => {
      const trace = record(r);
      const before = run(trace);
      const c = before[0]?.cycles[0];
      if (c?.settled == null || before[0]?.verdict !== 'inconclusive') return;
      const from = trace.time.findIndex((t) => t > (c.settled as number) + 1);
      if (from < 0) return;
      const keep = (column: Float64Array) => Float64Array.from([...column.slice(0, from), ...column.slice(from + n)]);
      expect(verdicts(run({ ...trace, time: keep(trace.time), pressure: keep(trace.pressure) }))).not.toContain('pass');
    }), options);
  });

  it('never throws, whatever the numbers', () => {
    const anything = fc.oneof(fc.double(), fc.constantFrom(NaN, Infinity, -Infinity, -0, 1e308, -1e308, 550, 0, 600), fc.double({ min: -10, max: 700, noNaN: true }));
    fc.assert(fc.property(fc.array(fc.tuple(anything, anything, fc.integer({ min: 0, max: 63 })), { maxLength: 400 }), (rows) => {
      const outcomes = judge(traceOf(rows.map((x) => x[0]), rows.map((x) => x[1]), rows.map((x) => x[2])), planWith(), thresholds);
      expect(outcomes.length).toBeGreaterThan(0);
      for (const o of outcomes) expect(o.verdict).not.toBe('pass');
    }), { numRuns: 200 });
  });

  it('never throws on steady sampling with wild pressures, nor passes a recording without a hold', () => {
    fc.assert(fc.property(fc.array(fc.oneof(fc.constant(550), fc.constant(0), fc.double({ min: -50, max: 900, noNaN: true })), { maxLength: 300 }), (ps) => {
      const outcomes = judge(traceOf(ps.map((_, i) => i * 0.1), ps), planWith({ holdTime: '60 s' }), thresholds);
      for (const o of outcomes) expect(o.verdict).not.toBe('pass');
    }), { numRuns: 200 });
  });
});
