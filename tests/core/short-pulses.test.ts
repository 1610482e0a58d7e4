/** Short pulses of pressure and leaps of the signal: which of them is water, which electricity, which cannot be told. Drawn by hand; that they occur is common practice. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'pulses', testPressure: '100 bar', holdTime: '20 s', minimumPressure: '96 bar', maximumDrop: '4 %', ceilingPressure: '110 bar' }, 'p');

function one(trace: Trace): Outcome {
  const [outcome] = judge(trace, plan, standardThresholds, {});
  if (outcome === undefined) throw new Error('no run');
  return outcome;
}
const ceilingOf = (outcome: Outcome) => outcome.findings.find(({ rule }) => rule === 'ceiling')?.outcome;
const inHold = ({ events }: Outcome) => events.filter(({ at, kind }) => at > 25 && (kind === 'glitch' || kind === 'spike'));

/** A hold at 101 bar with what is drawn into it after 20 s, and a vent. */
function holding(interval: number, draw: (b: TraceBuilder) => TraceBuilder): Trace {
  const b = new TraceBuilder(interval, 0.01, 0.01).level(5, 0);
  for (let k = 0; k < 5; k++) b.ramp(0.4, 20.4 * k, 20.4 * (k + 1)).level(0.6, 20.4 * (k + 1));
  return draw(b.shape(20, (t) => 101 + Math.exp(-t / 4))).level(25, 101).ramp(0.4, 101, 0).level(6, 0).trace;
}
/** A pulse of `width` s and `height` bar that begins `late` s after a reading. */
const pulse = (width: number, height: number, late: number) => (b: TraceBuilder): TraceBuilder =>
  b.shape(width + 0.1, (t) => 101 + (t > late && t < late + width ? height * Math.sin((Math.PI * (t - late)) / width) ** 2 : 0));

const phases = [0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9];

describe.each([[16], [20], [25], [30]])('a pulse of pressure of %s bar above a ceiling 9 bar higher', (height) => {
  it.each([0.045, 0.05, 0.055, 0.06, 0.08])('never passes at 100 Hz, however the readings fall: %s s', (width) => {
    for (const phase of phases) expect(ceilingOf(one(holding(0.01, pulse(width, height, phase * 0.01))))).not.toBe('met');
  });

  it.each([0.055, 0.06, 0.08])('is an over-pressure at 100 Hz and told as a spike: %s s', (width) => {
    for (const phase of phases) {
      const outcome = one(holding(0.01, pulse(width, height, phase * 0.01)));
      expect(ceilingOf(outcome)).toBe('broken');
      expect(inHold(outcome).map(({ kind }) => kind)).toEqual(['spike']);
    }
  });

  it('of 30 ms is one at 200 Hz and more', () => {
    for (const interval of [0.005, 0.002]) for (const phase of phases) expect(ceilingOf(one(holding(interval, pulse(0.03, height, phase * interval))))).toBe('broken');
  });
});

describe('a leap of the signal', () => {
  it.each([
    ['one reading up', [45]], ['one reading down', [-50]], ['three readings up, the middle one highest', [38, 45, 37]], ['two readings down', [-45, -50]],
    ['up and down', [40, -40]],
  ])('stays a glitch at 100 Hz: %s', (_, offsets) => {
    const outcome = one(holding(0.01, (b) => b.values(...offsets.map((off) => 101 + off))));
    expect(outcome.verdict).toBe('pass');
    expect(inHold(outcome).map(({ kind, unclear }) => [kind, unclear])).toEqual([['glitch', undefined]]);
  });

  it('in a fast rise is no pulse', () => {
    const b = new TraceBuilder(0.01, 0.01, 0.01).level(5, 0).ramp(0.5, 0, 50).values(50 + 45).ramp(0.5, 51, 101.5).shape(50, (t) => 101 + Math.exp(-t / 4)).ramp(0.4, 101, 0).level(6, 0);
    const outcome = one(b.trace);
    expect(outcome.verdict).toBe('pass');
    expect(outcome.events.filter(({ kind }) => kind === 'glitch' || kind === 'spike').map(({ kind }) => kind)).toEqual(['glitch']);
  });

  it.each([[0.02, 2], [0.05, 2], [0.1, 3]])('of several readings is no sure glitch where water could do it: one each %s s, %s of them', (interval, readings) => {
    const outcome = one(holding(interval, (b) => b.values(...new Array<number>(readings).fill(101 + 25))));
    expect(outcome.verdict).toBe('inconclusive');
    expect(ceilingOf(outcome)).toBe('undecided');
    expect(inHold(outcome).map(({ kind, unclear }) => [kind, unclear])).toEqual([['glitch', true]]);
  });
});
