/** A welder or a relay near the cable: for seconds the readings scatter, and the pressure does nothing. Drawn by hand; that it occurs is common practice. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { RunReader } from '../../src/core/run-reader.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'disturbed', testPressure: '100 bar', holdTime: '30 s', minimumPressure: '96 bar', maximumDrop: '2 %', ceilingPressure: '110 bar' }, 'p');

function one(trace: Trace): Outcome {
  const outcomes = judge(trace, plan, standardThresholds, {});
  if (outcomes.length !== 1) throw new Error(`${outcomes.length} runs`);
  return outcomes[0] as Outcome;
}
const ruleOf = (outcome: Outcome, rule: string) => outcome.findings.find((finding) => finding.rule === rule);
const kinds = (outcome: Outcome, from: number) => outcome.events.filter(({ at, kind }) => at > from && kind !== 'stroke').map(({ kind }) => kind);

/** s, of the trace below, at which the disturbance begins: in the hold. */
const begin = 35;

/** Five strokes, then a hold that settles by 1 bar with 4 s and lasts until `begin`. */
function held(interval: number, seed = 1, leak = 0): TraceBuilder {
  const b = new TraceBuilder(interval, 0.02, 0.01, seed).level(5, 0);
  for (let k = 0; k < 5; k++) b.ramp(0.4, 20.4 * k, 20.4 * (k + 1)).level(0.6, 20.4 * (k + 1));
  return b.shape(begin - 10, (t) => 101 + Math.exp(-t / 4) - leak * t);
}
const done = (b: TraceBuilder, from = 101, to = from, seconds = 30): Trace => b.ramp(seconds, from, to).ramp(0.4, to, 0).level(6, 0).trace;

describe.each([0.1, 0.05, 0.01])('noise for two seconds in the hold, one reading each %s s', (interval) => {
  it('is told once and changes nothing, but for a rare one that happens to lie to one side; it fails none', () => {
    const outcomes = Array.from({ length: 40 }, (_, k) => one(done(held(interval, k + 1).level(2, 101, 1))));
    expect(outcomes.filter(({ verdict }) => verdict === 'fail')).toEqual([]);
    const plain = outcomes.filter((outcome) => kinds(outcome, 12).join() === 'glitch');
    expect(plain.length).toBeGreaterThanOrEqual(36);
    for (const outcome of plain) {
      expect(outcome.verdict).toBe('pass');
      const told = outcome.events.find(({ kind }) => kind === 'glitch');
      expect(told?.width).toBeGreaterThan(1.4);
      expect(told?.width).toBeLessThan(2.4);
      expect(outcome.cycles[0]?.holdMinimum).toBeGreaterThan(100.9);
    }
  });

  it('hides no stroke: the level is higher after it', () => {
    const outcome = one(done(held(interval).level(1, 101, 1).level(1, 101.8, 1), 101.8));
    expect(outcome.verdict).not.toBe('pass');
  });

  it('hides no loss: the level is lower after it', () => {
    const outcome = one(done(held(interval).level(1, 101, 1).level(1, 98.5, 1), 98.5));
    expect(outcome.verdict).toBe('fail');
  });

  it('hides no loss that was made up for meanwhile', () => {
    const leaking = held(interval, 1, 0.2).ramp(0.2, 96, 96).level(2.5, 96, 1);
    expect(one(done(leaking, 96, 95)).verdict).not.toBe('pass');
  });

  it('hides no burst', () => {
    const outcome = one(held(interval).level(1, 101, 1).ramp(0.1, 101, 2).level(20, 0).trace);
    expect(outcome.verdict).toBe('fail');
    expect(kinds(outcome, 12)).toContain('burst');
  });

  it('that reaches above the ceiling leaves that undecided, and says so', () => {
    const outcome = one(done(held(interval, 2).level(2, 101, 5)));
    expect(outcome.verdict).toBe('inconclusive');
    expect(ruleOf(outcome, 'ceiling')?.sentence).toMatch(/^In a disturbed stretch of the signal readings went up to 1[1-9]\d\.\d+ bar, above the ceiling/);
  });
});

it.each([[0.1, 12], [0.01, 12], [0.01, 20]])('noise that lasts leaves the run undecided, and says so: one reading each %s s, %s s of it', (interval, seconds) => {
  const outcome = one(done(held(interval).level(seconds, 101, 1)));
  expect(outcome.verdict).toBe('inconclusive');
  expect(outcome.findings.filter(({ outcome: o }) => o !== 'met').map(({ rule }) => rule)).toEqual(['data']);
  expect(ruleOf(outcome, 'data')?.sentence).toMatch(/^The signal was disturbed for 1?\d\.\d s from 3[45]\.\d s on|^The signal was disturbed for 20\.\d s/);
});

it('noise that comes again and again leaves too little of the hold', () => {
  const b = held(0.02);
  for (let k = 0; k < 4; k++) b.level(2.5, 101, 1).level(3, 101);
  const outcome = one(done(b));
  expect(outcome.verdict).toBe('inconclusive');
  expect(ruleOf(outcome, 'data')?.sentence).toContain('The signal was disturbed');
});

it('a recording that ends in noise has no hold', () => {
  expect(one(held(0.02).level(12, 101, 1).trace).verdict).toBe('inconclusive');
});

describe('what is no noise goes on as before', () => {
  it('a ring that dies away keeps its spike', () => {
    const ringing = held(0.01).shape(0.6, (t) => 101 + 12 * Math.cos(2 * Math.PI * 12 * t) * Math.exp(-t / 0.1));
    expect(one(done(ringing)).verdict).toBe('fail');
  });

  it('an oscillation that is sampled well is no disturbance', () => {
    const swaying = held(0.02).shape(3, (t) => 101 + 2 * Math.sin(2 * Math.PI * 2 * t));
    expect(one(done(swaying)).events.filter(({ kind }) => kind === 'glitch')).toEqual([]);
  });
});

it.each([2, 12])('a reader taken up from a snapshot within %s s of noise says the same', (seconds) => {
  const { time, pressure } = done(held(0.05, 2).level(seconds, 101, 1));
  const read = (cut: number): string => {
    const outcomes: Outcome[] = [];
    const fresh = () => new RunReader({ plan, thresholds: standardThresholds }, { runStarted: () => {}, found: () => {}, runEnded: (run) => outcomes.push(run.outcome) });
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
    return JSON.stringify(outcomes);
  };
  const whole = read(-1);
  expect(whole).toContain('the signal was disturbed');
  const first = Math.round(begin / 0.05);
  for (const cut of [first + 1, first + 9, first + 30, first + 20 * seconds - 2, first + 20 * seconds + 4]) expect(read(cut)).toBe(whole);
});
