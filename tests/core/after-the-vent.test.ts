/** What a bench shows once the pressure has been let off: the transducer's zero, a rest of pressure, or neither. Shapes are drawn by hand; that they occur is common practice. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { RunReader } from '../../src/core/run-reader.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { Flag, type Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const planOf = (more: Record<string, unknown> = {}) =>
  parsePlan({ plan: 'after the vent', testPressure: '500 bar', holdTime: '20 s', minimumPressure: '480 bar', maximumDrop: '4 %', ...more }, 'p');
const all = (trace: Trace, more: Record<string, unknown> = {}): Outcome[] => judge(trace, planOf(more), standardThresholds);
function one(trace: Trace, more: Record<string, unknown> = {}): Outcome {
  const outcomes = all(trace, more);
  expect(outcomes).toHaveLength(1);
  return outcomes[0] as Outcome;
}
const dataOf = (outcome: Outcome) => outcome.findings.find(({ rule }) => rule === 'data')?.sentence ?? '';

/** Five strokes of 101 bar from `zero` on, then 60 s of hold: the zero limit is 2.5 bar, vented is below 15 bar. */
function held({ interval = 0.05, sigma = 0.05, zero = 0, b = new TraceBuilder(interval, sigma).level(8, zero) } = {}): TraceBuilder {
  for (let k = 0; k < 5; k++) b.ramp(0.4, zero + (101 - zero / 5) * k, zero + (101 - zero / 5) * (k + 1)).level(0.6, zero + (101 - zero / 5) * (k + 1));
  return b.shape(60, (t) => 503 + 2 * Math.exp(-t / 4));
}
/** Through an orifice, in `seconds`, from 503 bar down to `to`. */
const vent = (b: TraceBuilder, to: number, seconds = 2) => b.shape(seconds, (t) => to + (503 - to) * (1 - t / seconds) ** 2);
/** Through a needle valve: ever more slowly, a fifteenth of it each second. */
const bleed = (b: TraceBuilder, seconds: number, to = 0) => b.shape(seconds, (t) => to + (503 - to) * Math.exp(-t / 15));

it('a zero that is where it was passes', () => expect(one(vent(held(), 0).level(10, 0).trace).verdict).toBe('pass'));

describe('a zero that has moved', () => {
  it.each([-4, -9, -11, -20, -60, 4, 12, 14.9, 15.2, 20, 40, 90])('by %s bar is never passed', (moved) => {
    const outcome = one(vent(held(), moved).level(15, moved).trace);
    expect(outcome.verdict).toBe('inconclusive');
    expect(dataOf(outcome)).toMatch(moved < -10 ? /the transducer read -\d+\.\d\d bar, below what a gauge can read/ : /zero moved by [+-]/);
    expect(/or the assembly was not fully vented/.test(dataOf(outcome))).toBe(moved > 0);
  });
  it.each([[-20, 1], [-20, 0.2], [20, 1]])('by %s bar is seen with one reading each %s s', (moved, interval) => {
    expect(one(vent(held({ interval }), moved, 1).level(20, moved).trace).verdict).toBe('inconclusive');
  });
  it.each([-13, -10.5, 14, 15.5, 18])('by %s bar is seen where noise carries readings over the border of what is vented, or a pressure at all', (moved) => {
    expect(one(vent(held({ interval: 0.2, sigma: 1 }), moved).level(30, moved).trace).verdict).toBe('inconclusive');
  });
  it('at once, far out of range, makes one run, however long it is waited for', () => {
    expect(one(held().level(0.1, 420).level(90, -80).trace).verdict).toBe('inconclusive');
  });
  it('is seen after a vent too slow to be told from a leak', () => {
    const outcome = one(bleed(held(), 90, 20).level(20, 20).trace);
    expect(dataOf(outcome)).toContain('or the assembly was not fully vented');
  });
  it('is seen in each of two tests that follow each other', () => {
    const b = vent(held({ zero: 0 }), 20).level(20, 20);
    const outcomes = all(vent(held({ zero: 20, b }), 20).level(20, 20).trace);
    expect(outcomes.map(({ verdict }) => verdict)).toEqual(['inconclusive', 'inconclusive']);
  });
  it('out of the range of an instrument that says so leaves its zero unknown', () => {
    const b = vent(held(), 0).flagged(200, Flag.underRange);
    expect(dataOf(one(b.trace))).toContain('told no pressure any more (out of range or at fault)');
  });
  it('is not spoken of where the transducer failed before the hold was done', () => {
    const b = new TraceBuilder(0.05, 0.05).level(8, 0).ramp(10, 0, 505).shape(20, (t) => 503 + 2 * Math.exp(-t / 4));
    expect(dataOf(one(b.flagged(400, Flag.underRange).trace))).not.toContain('After the hold');
  });
  it('is not found in what a line lost', () => {
    expect(one(vent(held(), 0).level(2, 0).flagged(200, Flag.unreadable).trace).verdict).toBe('pass');
    expect(one(vent(held(), 0).level(6, 0).flagged(200, Flag.underRange).trace).verdict).toBe('pass');
  });
});

describe('a rest of pressure', () => {
  it.each([3, 6, 10, 14])('of %s bar that drains away within a minute is no zero', (rest) => {
    expect(one(vent(held(), rest).level(2, rest).shape(30, (t) => rest * (1 - t / 30)).level(8, 0).trace).verdict).toBe('pass');
  });
  it.each([4, 12, 20, 60])('of %s bar behind a valve that is opened later is no zero', (rest) => {
    expect(one(vent(held(), rest).level(25, rest).ramp(0.5, rest, 0).level(8, 0).trace).verdict).toBe('pass');
  });
  it('that creeps up above what counts as vented, and is let off, is no zero', () => {
    expect(one(vent(held(), 4).shape(25, (t) => 22 - 18 * Math.exp(-t / 10)).ramp(0.5, 20, 0).level(8, 0).trace).verdict).toBe('pass');
  });
  it('that a needle valve lets off slowly is no zero', () => {
    expect(one(bleed(held(), 120).level(2, 0).trace).verdict).toBe('pass');
  });
  it.each([400, 150, 90, 40, 10])('of %s bar, still falling at the end of the recording, decides nothing', (at) => {
    const seconds = 15 * Math.log(503 / at);
    expect(one(bleed(held(), seconds).trace).verdict).toBe('pass');
  });
  it('of a third of the test pressure is a step of the vent, as far as the recording goes', () => {
    expect(one(vent(held(), 170).level(20, 170).trace).verdict).toBe('pass');
  });
  it('between the cycles of a run was pressure: it is pumped up again, and gone at the end', () => {
    const b = vent(held(), 40).level(12, 40);
    const outcome = one(vent(held({ zero: 40, b }), 0).level(8, 0).trace, { cycles: 2 });
    expect(outcome.cycles).toHaveLength(2);
    expect(dataOf(outcome)).toBe('The readings are complete and plausible.');
  });
});

describe('a run is over', () => {
  /** s from the start of the vent until the run is told while the readings go on; NaN where it is not. */
  function waits(trace: Trace): number {
    let over = NaN;
    let now = 0;
    const reader = new RunReader({ plan: planOf(), thresholds: standardThresholds }, { runStarted: () => {}, found: () => {}, runEnded: () => (over = now) });
    trace.time.forEach((at, i) => reader.step((now = at), trace.pressure[i] ?? NaN, trace.flags?.[i] ?? 0));
    return over - 73;
  }
  it('some seconds after the vent where the zero is fine', () => expect(waits(vent(held(), 0).level(200, 0).trace)).toBeLessThan(8));
  it.each([-20, 4, 20])('a minute after it where the reading stays at %s bar', (rest) => {
    const waited = waits(vent(held(), rest).level(200, rest).trace);
    expect(waited).toBeGreaterThan(55);
    expect(waited).toBeLessThan(75);
  });
  it.each([4, 20])('as the page says while the reading stays at %s bar', (rest) => {
    const reader = new RunReader({ plan: planOf(), thresholds: standardThresholds }, { runStarted: () => {}, found: () => {}, runEnded: () => {} });
    const { time, pressure } = vent(held({ sigma: 0 }), rest).level(20, rest).trace;
    time.forEach((at, i) => reader.step(at, pressure[i] ?? NaN, 0));
    const { verdict, deciding } = reader.view();
    expect(verdict).toBe('pending');
    expect(deciding).toHaveLength(1);
    expect(deciding[0]).toMatch(new RegExp(`^The reading stays at ${rest}\\.00 bar: open the vent fully\\. It cannot pass unless the reading comes within 2\\.50 bar of zero in the next 0:[45]\\d\\.$`));
  });
  it('as soon as the reading has come back within the limit', () => {
    expect(waits(vent(held(), 6).level(20, 6).ramp(0.5, 6, 0).level(200, 0).trace)).toBeLessThan(32);
  });
});

it.each([-20, 6, 14.95, 20])('a reader taken up from a snapshot at any moment after the vent says the same of %s bar', (rest) => {
  const { time, pressure } = vent(held(), rest).level(90, rest).ramp(0.5, rest, 0).level(10, 0).trace;
  const read = (cut: number): string => {
    const told: string[] = [];
    const fresh = () => new RunReader({ plan: planOf(), thresholds: standardThresholds }, { runStarted: () => {}, found: () => {}, runEnded: (run) => told.push(JSON.stringify(run)) });
    let reader = fresh();
    time.forEach((at, i) => {
      if (i === cut) {
        const state = reader.snapshot();
        reader = fresh();
        reader.restore(state);
      }
      reader.step(at, pressure[i] ?? NaN, 0);
    });
    reader.end();
    return told.join('\n');
  };
  const whole = read(-1);
  expect(whole).toContain('"verdict":"inconclusive"');
  for (let after = 74; after < 145; after += 8.35) expect(read(Math.round(after / 0.05))).toBe(whole);
});

describe('a vent in steps', () => {
  /** Let down to `to`, after which the hose gives back `share` of it within some seconds. */
  const step = (b: TraceBuilder, from: number, to: number, share: number, seconds: number) =>
    b.ramp(1, from, to).shape(seconds, (t) => to + share * (from - to) * (1 - Math.exp(-t / 2)));
  it.each([0.02, 0.06, 0.12])('is one vent where the hose gives back %s of each', (share) => {
    const b = step(step(step(held(), 503, 400, share, 12), 400 + 103 * share, 250, share, 12), 250, 120, share, 12);
    const outcome = one(b.ramp(0.5, 120, 0).level(8, 0).trace);
    expect(outcome.verdict).toBe('pass');
    expect(outcome.cycles).toHaveLength(1);
  });
  it('that is pumped up again is a second test', () => {
    const b = step(held(), 503, 400, 0.05, 8);
    for (let k = 0; k < 5; k++) b.ramp(0.4, 405 + 20 * k, 405 + 20 * (k + 1)).level(0.6, 405 + 20 * (k + 1));
    const outcomes = all(vent(b.shape(60, (t) => 503 + 2 * Math.exp(-t / 4)), 0).level(8, 0).trace);
    expect(outcomes.map(({ verdict }) => verdict)).toEqual(['pass', 'pass']);
    expect(outcomes[1]?.cycles[0]?.strokes).toBeGreaterThanOrEqual(5);
  });
});
