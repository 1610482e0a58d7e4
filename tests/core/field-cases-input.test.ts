import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import type { Outcome } from '../../src/core/outcome.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { Flag, type Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

// What readings that were no numbers, or came in bunches, must not become in the outcome; the drivers' part of these cases
// lies in tests/drivers and tests/acquisition.
const plan = parsePlan({ plan: 'field cases', testPressure: '345 bar', reachTolerance: '0 bar', holdTime: '30 s', minimumPressure: '345 bar', maximumDrop: '5 bar', ceilingPressure: '400 bar', riseRate: { maximum: '25 bar/s' } }, 'plan');
const one = (trace: Trace): Outcome => {
  const outcomes = judge(trace, plan, standardThresholds);
  expect(outcomes).toHaveLength(1);
  return outcomes[0] as Outcome;
};
const ruleOf = (o: Outcome, rule: string) => o.findings.find((f) => f.rule === rule);
const risen = (interval = 0.1, sigma = 0.03) => new TraceBuilder(interval, sigma).level(10, 0).ramp(18, 0, 350).level(30, 350);
const vent = (b: TraceBuilder) => b.shape(3, (t) => 350 * (1 - t / 3) ** 2).level(6, 0);

// https://github.com/home-assistant/core/issues/54345
it('FC-15: a refused answer in the hold is no fall to zero: no burst, minimum as read', () => {
  const o = one(vent(risen().values(350).flagged(1, Flag.unreadable).values(351).level(20, 350)).trace);
  expect(o.verdict).toBe('pass');
  expect(o.events.map(({ kind }) => kind)).not.toContain('burst');
  expect(o.cycles[0]?.holdMinimum).toBeGreaterThan(349.8);
  expect(o.signal.missing).toBe(1);
});

// https://github.com/pyhys/minimalmodbus/issues/24
it('FC-17: 6553.1 in place of -0.5 is no over-pressure', () => {
  const o = one(vent(risen().flagged(2, Flag.implausible, 6553.1).level(20, 350)).trace);
  expect(ruleOf(o, 'ceiling')?.outcome).toBe('met');
  expect(o.cycles[0]?.peak).toBeLessThan(352);
  expect(o.verdict).toBe('pass');
});

// https://github.com/serialport/node-serialport/issues/867, /issues/1605
it('FC-10 (b): a reopening that restarts the instrument in the hold leaves it not continuous, and is no burst', () => {
  const b = risen();
  const o = one(vent(b.mark('signal-lost').silence(2.6).mark('device-restart').mark('signal-back').level(25, 350)).trace);
  expect(o.verdict).toBe('inconclusive');
  expect(ruleOf(o, 'data')?.sentence).toMatch(/No data for 2\.[67] s/);
  expect(o.events.map(({ kind }) => kind)).not.toContain('burst');
});

// https://github.com/Fazecast/jSerialComm/pull/369, https://github.com/eblot/pyftdi/pull/338
describe('FC-11: 200 readings a second that arrive every 16 ms', () => {
  const trace = vent(risen(0.005, 0.02).level(20, 350)).trace;
  // Readings of one bunch lie 0.05 ms apart, as they come out of the adapter.
  const time = trace.time.map((sent) => Math.ceil(sent / 0.016 - 1e-9) * 0.016);
  for (let i = 1; i < time.length; i++) time[i] = Math.max(time[i] ?? 0, (time[i - 1] ?? 0) + 0.000_05);
  const o = one({ ...trace, time });
  it('are no spike and no burst', () => {
    expect(o.events.filter(({ kind }) => kind === 'spike' || kind === 'burst' || kind === 'glitch')).toEqual([]);
    expect(o.verdict).toBe('pass');
  });
  it('rise as fast as the water did: 350 bar in 18 s', () => {
    const rise = ruleOf(o, 'rise');
    expect(rise?.outcome).toBe('met');
    expect(rise?.measured).toBeGreaterThan(350 / 18 - 0.5);
    expect(rise?.measured).toBeLessThan(350 / 18 + 0.5);
  });
});
