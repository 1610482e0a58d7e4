/** What lifts the pressure during a hold, and what only seems to. Shapes are drawn by hand; that they occur is common practice. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'rises', testPressure: '500 bar', holdTime: '60 s', minimumPressure: '480 bar', maximumDrop: '5 bar', leakLimit: '2.5 bar/min', ceilingPressure: '540 bar' }, 'p');

function one(trace: Trace): Outcome {
  const [outcome] = judge(trace, plan, standardThresholds);
  if (outcome === undefined) throw new Error('no run');
  return outcome;
}
const ruleOf = (outcome: Outcome, rule: string) => outcome.findings.find((finding) => finding.rule === rule);
const told = (outcome: Outcome, kind: string) => outcome.events.filter((event) => event.kind === kind);

/** Ten strokes, then `course` (bar above 502) from the end of pumping on, s; vented after 120 s. */
function held(course: (t: number) => number, { interval = 0.02, sigma = 0.03, resolution = 0.01 } = {}): Trace {
  const b = new TraceBuilder(interval, sigma, resolution).level(10, 0);
  for (let k = 0; k < 10; k++) b.ramp(0.3, 50.3 * k, 50.3 * (k + 1)).level(0.7, 50.3 * (k + 1));
  return b.shape(120, (t) => 502 + Math.exp(-t / 4) + course(t)).ramp(1, 502, 0).level(8, 0).trace;
}
/** Pressure over a leak of `slope` bar/s that jerks of `rise` bar, `width` s long, make up for. */
const saw = (rise: number, slope: number, width = 0.1) => (t: number): number => {
  const period = rise / slope;
  const age = t % period;
  return age < width ? (rise * age) / width - slope * age : rise - slope * age;
};
/** A rise of `height` bar that lasts from 40 s for `length` s, with flanks of `flank` s. */
const lift = (height: number, length: number, flank: number) => (t: number): number => height * Math.max(0, Math.min(1, (t - 40) / flank, (40 + length - t) / flank));

describe('small strokes that keep up with a leak', () => {
  it.each([
    [0.6, 0.1, 0.02, 0.03], [0.4, 0.08, 0.05, 0.03], [0.6, 1, 0.02, 0.03], [0.7, 1.4, 0.01, 0.05], [0.5, 0.05, 0.1, 0.02],
  ])('of %s bar against %s bar/s never pass, one reading each %s s, noise %s bar', (rise, slope, interval, sigma) => {
    const outcome = one(held(saw(rise, slope), { interval, sigma }));
    expect(outcome.verdict).not.toBe('pass');
    expect(ruleOf(outcome, 'top-up')?.sentence).toMatch(/^Pressure was added during the hold, .* It may hide a leak\.$/);
    // All of them come to what the leak took.
    const added = told(outcome, 'top-up').reduce((sum, { height }) => sum + (height ?? 0), 0);
    expect(added / (60 * slope)).toBeGreaterThan(0.6);
    expect(added / (60 * slope)).toBeLessThan(1.2);
    expect(outcome.cycles[0]?.drop ?? 0).toBeGreaterThan(0.6 * 60 * slope);
  });

  it.each<[string, (t: number) => number]>([
    ['a floor that shakes', (t) => 0.3 * Math.sin(2 * Math.PI * 0.9 * t)],
    ['hum', (t) => 0.3 * Math.sin(2 * Math.PI * 3.3 * t)],
    ['steps that go either way', (t) => 0.4 * (Math.floor(t / 2.3) % 2)],
    ['a reading that creeps up in the warmth', (t) => 0.008 * t],
  ])('%s is no pump', (_, course) => {
    const outcome = one(held((t) => (t < 20 ? 0 : course(t))));
    expect(told(outcome, 'top-up')).toEqual([]);
    expect(ruleOf(outcome, 'top-up')?.outcome).toBe('met');
  });

  it('coarse readings that rise slowly are no pump', () => {
    const outcome = one(held((t) => 0.012 * t, { resolution: 0.2, sigma: 0.02 }));
    expect(told(outcome, 'top-up')).toEqual([]);
  });
});

describe('a rise that goes back to where it was', () => {
  it.each([[0.02, 5, 0.6], [0.02, 15, 1.2], [0.1, 8, 1.5], [0.005, 10, 0.8]])('adds nothing: one reading each %s s, %s bar for %s s', (interval, height, length) => {
    const outcome = one(held(lift(height, length, length / 2), { interval }));
    expect(outcome.verdict).toBe('pass');
    expect(told(outcome, 'top-up')).toEqual([]);
    expect(outcome.cycles[0]?.drop ?? 0).toBeLessThan(1);
    expect(Math.abs(outcome.cycles[0]?.leak?.rate ?? NaN)).toBeLessThan(0.5);
  });

  it('is there to be seen: it is told as a stroke', () => {
    const outcome = one(held(lift(10, 1.4, 0.5)));
    expect(told(outcome, 'stroke').filter(({ at }) => at > 50)).toHaveLength(1);
  });

  it('is a top-up where it comes again: so a pump keeps up with a quick leak', () => {
    const outcome = one(held((t) => (t > 30 && t < 100 ? saw(4, 2.5, 0.2)(t) : 0)));
    expect(outcome.verdict).not.toBe('pass');
    expect(told(outcome, 'top-up').length).toBeGreaterThan(10);
  });

  it('counts as what is left of it', () => {
    // 6 bar, of which 2 bar stay.
    const outcome = one(held((t) => lift(6, 0.5, 0.2)(t) + (t > 40.4 ? 2 : 0)));
    const [first] = told(outcome, 'top-up');
    expect(first?.height ?? 0).toBeGreaterThan(1.7);
    expect(first?.height ?? 0).toBeLessThan(2.4);
  });
});

it('a reading that swings all the time is said to swing, not to have been vented too soon', () => {
  const outcome = one(held((t) => 2 * Math.sin(2 * Math.PI * 0.8 * t)));
  expect(outcome.verdict).toBe('inconclusive');
  expect(ruleOf(outcome, 'hold')?.sentence).toMatch(/^No hold: \d+ rises like strokes came after the test pressure was reached, .* vibration, pulsation or hum\.$/);
});
