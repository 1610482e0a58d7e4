import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import type { Outcome } from '../../src/core/outcome.js';
import { RunReader } from '../../src/core/run-reader.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Mark, Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

// What the contacts of pump and vent add to what the pressure says. A bench without them is judged as ever.
const plan = parsePlan({ plan: 'contacts', testPressure: '700 bar', holdTime: '60 s', minimumPressure: '600 bar', maximumDrop: '30 bar' }, 'plan');
const one = (trace: Trace): Outcome => {
  const outcomes = judge(trace, plan, standardThresholds);
  expect(outcomes).toHaveLength(1);
  return outcomes[0] as Outcome;
};
const ruleOf = (o: Outcome, rule: string) => o.findings.find((f) => f.rule === rule);
const kinds = (o: Outcome) => o.events.map(({ kind }) => kind);

/** Vented with the vent open, shut, pumped up to 705 bar, and at rest for 20 s: the hold has begun. */
const held = (contacts = true) => {
  const b = new TraceBuilder(0.05, 0.05);
  const mark = (kind: Mark['kind']) => (contacts ? b.mark(kind) : b);
  b.level(5, 0);
  mark('vent-open');
  mark('pump-off');
  b.level(10, 0);
  mark('vent-closed');
  b.level(2, 0);
  mark('pump-on');
  b.ramp(20, 0, 705);
  mark('pump-off');
  return b.level(30, 705);
};
const vented = (b: TraceBuilder, from: number, mark: Mark['kind'] | null = 'vent-open') => {
  if (mark !== null) b.mark(mark);
  return b.shape(4, (t) => from * (1 - t / 4) ** 2).level(8, 0);
};

describe('pump contact', () => {
  it('a small rise during the hold is a top-up while the pump runs', () => {
    const rise = (mark: boolean) => {
      const b = held();
      if (mark) b.mark('pump-on');
      b.shape(2, (t) => 705 + 0.2 * t);
      if (mark) b.mark('pump-off');
      return one(vented(b.level(60, 705.4), 705.4).trace);
    };
    // 0.4 bar is less than the 0.15 % (1.05 bar) that a rise needs to be a top-up by itself.
    const pumped = rise(true);
    expect(pumped.cycles[0]?.topUps).toBe(1);
    expect(pumped.events.find(({ kind }) => kind === 'top-up')?.height).toBeCloseTo(0.4, 0);
    expect(pumped.verdict).toBe('inconclusive');
    const crept = rise(false);
    expect(crept.cycles[0]?.topUps).toBe(0);
    expect(crept.verdict).toBe('pass');
  });
  it('a pump that runs and adds nothing is no top-up', () => {
    const b = held().mark('pump-on').level(3, 705).mark('pump-off');
    const o = one(vented(b.level(60, 705), 705).trace);
    expect(o.cycles[0]?.topUps).toBe(0);
    expect(o.verdict).toBe('pass');
  });
  it('a rise while the pump is known to be off is none, and is told', () => {
    const risen = (contacts: boolean) => one(vented(held(contacts).shape(0.3, (t) => 705 + 20 * t).level(65, 711), 711, null).trace);
    const off = risen(true);
    expect(off.cycles[0]?.topUps).toBe(0);
    expect(ruleOf(off, 'top-up')?.outcome).toBe('met');
    expect(off.notes.join(' ')).toMatch(/rose by [56]\.\d+ bar at \d+\.\d s while the pump contact was off: not counted as a top-up/);
    // Without contacts it is one, as ever.
    expect(risen(false).cycles[0]?.topUps).toBe(1);
  });
  it.each<[string, (b: TraceBuilder) => TraceBuilder]>([
    ['that never moved while the pressure was pumped up', () => new TraceBuilder(0.05, 0.05).level(5, 0).mark('pump-off').level(10, 0).ramp(20, 0, 705).level(30, 705)],
    ['that can no longer be read', (b) => b.mark('pump-unknown').level(1, 705)],
    ['whose link was lost meanwhile', (b) => b.mark('signal-lost').mark('signal-back').level(1, 705)],
  ])('a contact %s is not believed', (_name, prepare) => {
    const b = prepare(held());
    const o = one(vented(b.shape(0.3, (t) => 705 + 20 * t).level(65, 711), 711, null).trace);
    expect(kinds(o)).toContain('top-up');
    expect(o.verdict).toBe('inconclusive');
  });
});

describe('vent contact', () => {
  it('a slow fall with the vent open is a vent, not a leak', () => {
    const fall = (mark: boolean) => {
      const b = held();
      if (mark) b.mark('vent-open');
      return one(b.shape(200, (t) => Math.max(0, 705 - 4 * t)).level(10, 0).trace);
    };
    const opened = fall(true);
    expect(ruleOf(opened, 'hold')).toMatchObject({ outcome: 'undecided', sentence: expect.stringMatching(/vented early/) as string });
    expect(opened.verdict).toBe('inconclusive');
    expect(opened.cycles[0]?.drop).toBeLessThan(1);
    // Four bar a second with nobody at the valve is a leak.
    expect(fall(false).verdict).toBe('fail');
  });
  it('a sudden fall with the vent open is no burst, even where the contact is read a moment late', () => {
    const dumped = (late: number | null) => {
      const b = held();
      const fall = (t: number) => 705 * Math.exp(-t / 0.15);
      if (late === null) return one(b.shape(3, fall).level(10, 0).trace);
      b.shape(late, fall).mark('vent-open');
      return one(b.shape(3, (t) => fall(t + late)).level(10, 0).trace);
    };
    for (const late of [0, 0.1, 0.4]) {
      const o = dumped(late);
      expect([late, kinds(o).includes('burst'), o.verdict]).toEqual([late, false, 'inconclusive']);
      expect(o.cycles[0]?.vented).not.toBeNull();
    }
    expect(dumped(null)).toMatchObject({ verdict: 'fail' });
  });
  it('a fast fall with the vent known to be shut is a loss, not a vent by the operator', () => {
    const fallen = (contacts: boolean) => one(held(contacts).shape(8, (t) => 705 * (1 - t / 8) ** 2).level(10, 0).trace);
    const shut = fallen(true);
    expect(ruleOf(shut, 'burst')).toMatchObject({ outcome: 'broken', sentence: expect.stringMatching(/while the vent was shut: an assembly or a connection burst/) as string });
    expect(kinds(shut)).toContain('burst');
    expect(shut.verdict).toBe('fail');
    // Nobody knows: it may have been the operator.
    expect(fallen(false)).toMatchObject({ verdict: 'inconclusive' });
  });
  it('at slow readings the contact tells a burst from a quick vent', () => {
    const slow = (mark: Mark['kind'] | null) => {
      const b = new TraceBuilder(1, 0.05).level(5, 0);
      if (mark !== null) b.mark('vent-open').level(10, 0).mark('vent-closed');
      b.level(20, 0).ramp(30, 0, 705).level(45, 705);
      if (mark === 'vent-open') b.mark(mark);
      return one(b.values(40, 0).level(12, 0).trace);
    };
    expect(ruleOf(slow('vent-closed'), 'burst')?.outcome).toBe('broken');
    expect(ruleOf(slow('vent-open'), 'burst')?.outcome).toBe('met');
    expect(ruleOf(slow(null), 'burst')?.outcome).toBe('undecided');
  });
  it('after the hold a fall with the vent shut fails nothing', () => {
    const o = one(vented(held().level(60, 705), 705, null).trace);
    expect(o.verdict).toBe('pass');
  });
});

describe('contacts in a recording', () => {
  it('that only follow what the pressure shows anyway change nothing in the outcome', () => {
    const run = (contacts: boolean) => one(vented(held(contacts).level(60, 705), 705, contacts ? 'vent-open' : null).trace);
    expect(JSON.stringify(run(true))).toBe(JSON.stringify(run(false)));
  });
  it('a reader taken up from a snapshot at any moment of a fall with the vent shut says the same', () => {
    const { time, pressure, marks } = held().shape(3, (t) => 705 * (1 - t / 3) ** 2).level(10, 0).trace;
    const read = (cut: number): string => {
      const outcomes: Outcome[] = [];
      const fresh = () => new RunReader({ plan, thresholds: standardThresholds }, { runStarted: () => {}, found: () => {}, runEnded: (run) => outcomes.push(run.outcome) });
      let reader = fresh();
      let next = 0;
      time.forEach((at, i) => {
        if (i === cut) {
          const state = reader.snapshot();
          reader = fresh();
          reader.restore(state);
        }
        for (let mark = marks?.[next]; mark !== undefined && mark.time <= at; mark = marks?.[++next]) reader.mark(mark);
        reader.step(at, pressure[i] ?? NaN, 0);
      });
      reader.end();
      return JSON.stringify(outcomes);
    };
    const whole = read(-1);
    expect(whole).toContain('while the vent was shut');
    const fall = Math.round(67 / 0.05);
    for (const cut of [fall, fall + 10, fall + 15, fall + 20, fall + 40]) expect(read(cut)).toBe(whole);
  });
});
