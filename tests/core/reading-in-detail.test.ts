import { describe, expect, it } from 'vitest';
import { curveAt } from '../../src/core/hold-detail.js';
import { judge } from '../../src/core/judge.js';
import type { Plan } from '../../src/core/plan.js';
import { ReadingInDetail, type RunInDetail } from '../../src/core/reading-in-detail.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import type { Trace } from '../../src/core/trace.js';
import { canonicalJson } from '../../src/records/canonical-json.js';
import { demoPlaylist, testPlaylist } from '../../simulators/player.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { TraceBuilder } from '../traces.js';

function inDetail(trace: Trace, plan: Plan | null, stretch: number): readonly RunInDetail[] {
  const reading = new ReadingInDetail(trace, { plan, thresholds: standardThresholds });
  while (!reading.read(stretch)) expect(reading.share).toBeLessThan(1);
  return reading.found;
}
const outcomes = (runs: readonly RunInDetail[]) => canonicalJson(runs.map(({ outcome }) => outcome));

describe('reading in detail', () => {
  it.each([...demoPlaylist, ...testPlaylist.slice(-1)].map(({ name }) => [name]))('%s comes out as judge has it, byte for byte', (name) => {
    const { samples, plan } = runScenario(name, 3);
    const runs = inDetail(samples, plan, 997);
    expect(outcomes(runs)).toBe(canonicalJson(judge(samples, plan, standardThresholds)));
    for (const { outcome, holds } of runs) expect(holds.length).toBe(outcome.cycles.length);
  });

  it('comes out as judge has it without a plan, and where there is nothing', () => {
    const { samples } = runScenario('live-pass', 1);
    expect(outcomes(inDetail(samples, null, 5000))).toBe(canonicalJson(judge(samples, null, standardThresholds)));
    const empty = new TraceBuilder().trace;
    expect(outcomes(inDetail(empty, null, 10))).toBe(canonicalJson(judge(empty, null, standardThresholds)));
  });

  it('gives the curve of the hold: its averages lie around it, and its slope is the leak', () => {
    const { samples, plan } = runScenario('demo-leak', 2);
    const [run] = inDetail(samples, plan, 1e6);
    const [hold, leak] = [run?.holds[0], run?.outcome.cycles[0]?.leak];
    const curve = hold?.curve;
    if (!run || !hold || !curve || !leak) throw new Error('no curve');
    expect(hold.settled).toBe(run.outcome.cycles[0]?.settled);
    expect(Math.abs(-60 * curve.slope - leak.rate)).toBeLessThan(2 * leak.standardError + 1e-9);
    const { time, pressure } = hold.averages;
    const off = time.flatMap((t, i) => (t >= curve.from ? [(pressure[i] ?? NaN) - curveAt(curve, t)] : []));
    expect(off.length).toBeGreaterThan(30);
    expect(Math.abs(off.reduce((a, b) => a + b, 0) / off.length)).toBeLessThan(0.05);
    expect(Math.max(...off.map(Math.abs))).toBeLessThan(1);
  });

  it('bends the curve where a leak set in during the hold', () => {
    const trace = new TraceBuilder(0.1, 0.02)
      .level(10, 0).ramp(20, 0, 552).level(40, 552).shape(40, (t) => 552 - (8 / 60) * t).ramp(2, 546, 0).level(70, 0).trace;
    const plan = runScenario('live-pass', 1).plan;
    const [run] = inDetail(trace, { ...plan, testPressure: 550, holdTime: 60, minimumPressure: 500, ceilingPressure: 620 }, 1e6);
    const startedAt = run?.outcome.cycles[0]?.leak?.startedAt;
    const bend = run?.holds[0]?.curve?.bend;
    if (startedAt === undefined || !bend) throw new Error('no bend');
    expect(bend.at).toBeCloseTo(startedAt, 2);
    expect(Math.abs(startedAt - 70)).toBeLessThan(2);
    expect(-60 * bend.slope).toBeGreaterThan(7);
    expect(-60 * bend.slope).toBeLessThan(9);
  });
});
