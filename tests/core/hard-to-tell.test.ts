/** Signals that look like something else: what a careful reader would say of them. Shapes are drawn by hand; that they occur is common practice. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { traceOf, type Instrument, type Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const planOf = (more: Record<string, unknown> = {}) =>
  parsePlan({ plan: 'hard', testPressure: '100 bar', holdTime: '20 s', minimumPressure: '96 bar', maximumDrop: '4 %', ceilingPressure: '110 bar', ...more }, 'p');

function one(trace: Trace, more: Record<string, unknown> = {}, instrument: Instrument = {}): Outcome {
  const [outcome] = judge(trace, planOf(more), standardThresholds, instrument);
  if (outcome === undefined) throw new Error('no run');
  return outcome;
}
const ruleOf = (outcome: Outcome, rule: string) => outcome.findings.find((finding) => finding.rule === rule);

/** Settles by 1 bar with 4 s. */
const settling = (level: number) => (t: number) => level + Math.exp(-t / 4);
/** Five strokes of 20 bar, then a hold; `sigma` bar. */
function sound({ interval = 0.02, sigma = 0.02, resolution = 0.01, hold = 50, idle = 5 } = {}): TraceBuilder {
  const b = new TraceBuilder(interval, sigma, resolution).level(idle, 0);
  for (let k = 0; k < 5; k++) b.ramp(0.4, 20.4 * k, 20.4 * (k + 1)).level(0.6, 20.4 * (k + 1));
  return b.shape(hold, settling(101));
}
const vented = (b: TraceBuilder): Trace => b.ramp(0.4, 101, 0).level(6, 0).trace;

it('a sound hold passes', () => expect(one(vented(sound())).verdict).toBe('pass'));

describe('an overshoot that swings back', () => {
  /** The last stroke overshoots to 116 bar and swings to 98 bar and 103 bar: five readings of 50 ms. */
  const ringing = (interval: number) => {
    const b = new TraceBuilder(interval, 0.01, 0.01).level(5, 0);
    for (let k = 0; k < 4; k++) b.ramp(0.4, 25 * k, 25 * (k + 1)).level(0.6, 25 * (k + 1));
    return vented(b.shape(0.6, (t) => 101 + 14 * Math.cos(2 * Math.PI * 5 * t) * Math.exp(-t / 0.12)).shape(40, settling(100.5)));
  };

  it.each([0.1, 0.05, 0.02])('never passes below the ceiling unseen, one reading each %s s', (interval) => {
    const outcome = one(ringing(interval));
    expect(outcome.verdict).not.toBe('pass');
    expect(ruleOf(outcome, 'ceiling')?.outcome).not.toBe('met');
  });
});

it('readings that come in a bunch make no pressure peak a glitch', () => {
  const { time, pressure } = sound({ interval: 0.01 }).shape(0.12, (t) => 101 + 14 * Math.sin((Math.PI * t) / 0.12)).shape(3, settling(101)).trace;
  // Four or five at a time bear the stamp at which the computer got round to them.
  const stamps = Float64Array.from(time, (t) => Math.ceil(t / 0.045) * 0.045);
  const outcome = one(traceOf([...stamps], [...pressure]));
  expect(ruleOf(outcome, 'ceiling')?.outcome).not.toBe('met');
});

describe('a reading that stands still', () => {
  it.each([[0.01, 0.1, 0.06], [0.2, 0.1, 0.09]])('is no hold where the vented one was alive: one each %s s, steps of %s bar, noise %s bar', (interval, resolution, sigma) => {
    const b = new TraceBuilder(interval, sigma, resolution).level(12, 0);
    for (let k = 0; k < 5; k++) b.ramp(0.4, 20.4 * k, 20.4 * (k + 1)).level(0.6, 20.4 * (k + 1));
    const outcome = one(vented(b.shape(45, () => 101.5, 0)));
    expect(outcome.verdict).toBe('inconclusive');
    expect(ruleOf(outcome, 'data')?.sentence).toMatch(/^The sensor did not move for \d+\.\d s/);
  });

  it('is one where the instrument is as quiet as that', () => {
    const b = new TraceBuilder(0.05, 0.004, 0.1).level(12, 0.01);
    for (let k = 0; k < 5; k++) b.ramp(0.4, 20.4 * k, 20.4 * (k + 1)).level(0.6, 20.4 * (k + 1));
    expect(one(vented(b.shape(45, (t) => 101.3 + 0.9 * Math.exp(-t / 4)))).verdict).toBe('pass');
  });
});

describe('a short dip in the hold', () => {
  const dip = (length: number) => vented(sound({ hold: 30 }).shape(length, () => 94).shape(24, () => 101));

  it('below the minimum for less than the breach time breaks nothing, and its end is no top-up', () => {
    const outcome = one(dip(0.4));
    expect(ruleOf(outcome, 'minimum')?.outcome).toBe('met');
    expect(ruleOf(outcome, 'top-up')?.outcome).toBe('met');
    expect(Math.abs(outcome.cycles[0]?.leak?.rate ?? NaN)).toBeLessThan(0.2);
  });

  it('that lasts longer is below the minimum', () => expect(ruleOf(one(dip(1.6)), 'minimum')?.outcome).toBe('broken'));

  it('a stroke that adds pressure stays a top-up', () => {
    const leaking = vented(sound({ hold: 30 }).ramp(4, 101, 99).ramp(0.3, 99, 101).level(20, 101));
    expect(ruleOf(one(leaking), 'top-up')?.outcome).toBe('undecided');
  });
});

it('a spike while it settles moves the start of the hold by less than a second', () => {
  const startOf = (trace: Trace) => one(trace).cycles[0]?.settled ?? NaN;
  const calm = startOf(vented(sound({ hold: 50 })));
  const spiked = sound({ hold: 12 }).shape(0.12, (t) => 101.05 + 5 * Math.sin((Math.PI * t) / 0.12)).shape(38, (t) => 101 + Math.exp(-(t + 12.12) / 4));
  expect(Math.abs(startOf(vented(spiked)) - calm)).toBeLessThan(1);
});

describe('air that is pressed together first', () => {
  /** Strokes that at first lift the pressure by 0.2 bar each, one every 2 s. */
  const soft = (): TraceBuilder => {
    const b = new TraceBuilder(0.02, 0.005, 0.01).level(17, 0);
    let p = 0;
    for (let k = 0; k < 10; k++, p += 0.25) b.ramp(0.3, p, p + 0.25).level(1.7, p + 0.25);
    for (let k = 0; k < 5; k++) b.ramp(0.4, p + 20 * k, p + 20 * (k + 1)).level(0.6, p + 20 * (k + 1));
    return b.shape(40, settling(101.5));
  };

  it('is no vented reading that is off, and its strokes count', () => {
    const outcome = one(vented(soft()));
    expect(ruleOf(outcome, 'data')?.outcome).toBe('met');
    expect(outcome.cycles[0]?.strokes).toBe(15);
    expect(outcome.cycles[0]?.rising).toBeGreaterThan(16);
    expect(outcome.cycles[0]?.rising).toBeLessThan(18);
  });
});

it('the flicker of a coarse instrument is no glitch', () => {
  const flickers = vented(sound({ sigma: 0.08, resolution: 0.5, idle: 20, interval: 0.05 }));
  expect(one(flickers).events.filter(({ kind }) => kind === 'glitch')).toEqual([]);
});

describe('an instrument that cannot tell', () => {
  it.each([['0 to 80 bar', 0, 80], ['0 to 101.505 bar, a step above what it shows', 0, 101.505]])('is told of: %s', (_words, lower, upper) => {
    const b = sound();
    const { time, pressure } = vented(b);
    const shown = upper > 100 ? pressure.map((p) => Math.min(p, 101.5)) : pressure;
    const outcome = one({ time, pressure: shown }, {}, { range: { lower, upper }, resolution: 0.01 });
    expect(outcome.verdict).toBe('inconclusive');
    expect(ruleOf(outcome, 'data')?.sentence).toMatch(/^The reading stood at the end of what the transducer can show/);
  });

  it('is told of where its range begins above the vented bench', () => {
    expect(ruleOf(one(vented(sound()), {}, { range: { lower: 60, upper: 400 } }), 'data')?.sentence).toMatch(/range begins at 60\.00 bar/);
  });

  it('is told of where half of its readings are no pressure', () => {
    const { time, pressure } = vented(sound());
    const half = pressure.map((p, i) => (i % 2 === 0 ? p : -1000));
    expect(ruleOf(one({ time, pressure: half }), 'data')?.sentence).toMatch(/^Of \d+ readings under pressure \d+ told no pressure/);
    const few = pressure.map((p, i) => (i % 20 === 0 ? Number.NaN : p));
    expect(one({ time, pressure: few }).verdict).toBe('pass');
  });
});

describe('a guarded rule of which no uncertainty is known', () => {
  const near = vented(sound({ hold: 30 }).ramp(8, 101, 100).level(16, 100));

  it('assumes a usual one, says so, and does not decide near the limit', () => {
    const outcome = one(near, { decisionRule: 'guarded', minimumPressure: '99.9 bar', maximumDrop: '10 %' });
    expect(ruleOf(outcome, 'minimum')?.outcome).toBe('undecided');
    expect(outcome.notes.join(' ')).toContain('0.25 % of the test pressure was assumed');
  });

  it('rests on what is known where something is', () => {
    const outcome = one(near, { decisionRule: 'guarded', minimumPressure: '99.9 bar', maximumDrop: '10 %' }, { calibrationUncertainty: 0.01 });
    expect(ruleOf(outcome, 'minimum')?.outcome).toBe('met');
    expect(outcome.notes.join(' ')).not.toContain('assumed');
  });
});

it('coarse steps leave the leak no larger than all that was lost', () => {
  const { leak } = one(vented(sound({ sigma: 0.002, resolution: 0.1, hold: 45 })), { leakLimit: '3 bar/min' }).cycles[0] ?? {};
  expect(leak?.highest).toBeLessThan((60 * (1 + 0.2)) / 30);
});
