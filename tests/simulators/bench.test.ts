import { describe, expect, it } from 'vitest';
import { coarse, grid, runBench, type BenchSetup } from '../../simulators/bench.js';
import { runScenario } from '../../simulators/run-scenario.js';

const settling = { quietTime: 10, window: 10, slope: 0.03, steady: 1e-5, timeout: 120 };
const good: BenchSetup = {
  assembly: { volume: 800, expansion: 0.04, air: 0.5, cooling: 25, temperature: 20, creep: [{ compliance: 0.001, timeConstant: 6 }] },
  pump: { strokeVolume: 1.5, pushTime: 0.15, returnTime: 0.15, stallPressure: 1000, strokeLoss: 0.01, stopLoss: 0, stopLossTime: 0.3 },
  vent: { opening: 0.3, fallTime: 1.5 },
  leaks: [], bursts: [], hammers: [],
  script: [{ rest: 3, target: 560, vent: { when: 'after-hold', margin: 4 } }],
  testPressure: 550, holdTime: 30, floor: 530, reach: 544.5, tail: 5,
  settling: { true: settling, early: settling, late: settling },
};
const at = (record: { calm: Float64Array }, t: number) => record.calm[Math.round(t / grid)] ?? Number.NaN;
const first = (setup: BenchSetup) => {
  const record = runBench(setup);
  const cycle = record.cycles[0];
  if (cycle === undefined) throw new Error('no cycle');
  return { record, cycle };
};

describe('bench', () => {
  it('does what the operator was told: rest, pump to the target, wait, vent, in this order', () => {
    const { record, cycle } = first(good);
    expect(cycle.rising).toBeGreaterThanOrEqual(3);
    expect(cycle.rising).toBeLessThan(3.5);
    expect(at(record, cycle.stopped)).toBeGreaterThan(559);
    expect(at(record, cycle.stopped)).toBeLessThan(580);
    expect(cycle.settled - cycle.stopped).toBeGreaterThanOrEqual(10);
    expect(cycle.vented).toBeCloseTo(cycle.settled + 30 + 4, 1);
    expect(at(record, cycle.vented + 2.5)).toBeLessThan(0.05);
  });

  it('rises stroke by stroke and rests between two', () => {
    const { record, cycle } = first(good);
    const strokes = record.strokes.filter((s) => s.start < cycle.stopped);
    expect(strokes.length).toBeGreaterThan(20);
    for (let i = 1; i + 1 < strokes.length; i++) {
      const [stroke, next] = [strokes[i], strokes[i + 1]];
      if (stroke === undefined || next === undefined) throw new Error('no stroke');
      expect(at(record, stroke.end) - at(record, stroke.start)).toBeGreaterThan(5);
      expect(at(record, next.start)).toBeLessThanOrEqual(at(record, stroke.end) + 0.01);
    }
  });

  it('settles without a leak and keeps falling with one; the leak rate is what leakage alone takes', () => {
    const tight = first(good);
    const leaking = first({ ...good, leaks: [{ rate: 6, law: 'orifice', start: { when: 'stopped', cycle: 0, after: 0 } }] });
    const t = leaking.cycle.stopped + 25;
    const slope = (r: { calm: Float64Array }) => (at(r, t - 5) - at(r, t + 5)) * 6;
    const lost = (leaking.record.lossRate[Math.round(t / coarse)] ?? 0) * 60;
    expect(lost).toBeGreaterThan(5);
    expect(lost).toBeLessThan(6.2);
    expect(slope(leaking.record) - slope(tight.record)).toBeCloseTo(lost, 0);
  });

  it('empties within tens of milliseconds when the hose lets go, and the operator vents after it', () => {
    const { record, cycle } = first({ ...good, bursts: [{ start: { when: 'hold', cycle: 0, after: 12 }, opening: 0.004, fallTime: 0.04 }] });
    const burst = record.burstAt[0] ?? Number.NaN;
    expect(burst).toBeCloseTo(cycle.settled + 12, 1);
    expect(at(record, burst)).toBeGreaterThan(540);
    expect(at(record, burst + 0.1)).toBeLessThan(20);
    expect(cycle.vented).toBeGreaterThan(burst);
    expect(cycle.vented).toBeLessThan(burst + 10);
  });

  it('adds a hammer as half a sine that leaves nothing behind', () => {
    const hammer = { start: { when: 'hold', cycle: 0, after: 5 }, height: 40, width: 0.1 } as const;
    const { record, cycle } = first({ ...good, hammers: [hammer] });
    const start = cycle.settled + 5;
    const p = (t: number) => (record.pressure[Math.round(t / grid)] ?? 0) - at(record, t);
    expect(p(start + 0.05)).toBeCloseTo(40, 1);
    expect(p(start + 0.025)).toBeCloseTo(40 * Math.SQRT1_2, 0);
    expect(p(start - 0.01)).toBe(0);
    expect(p(start + 0.12)).toBe(0);
  });

  it('shows air in the soft start: the first strokes lift less than the later ones', () => {
    const { record } = first({ ...good, assembly: { ...good.assembly, air: 25 } });
    const lift = (i: number) => {
      const stroke = record.strokes[i];
      return stroke === undefined ? Number.NaN : at(record, stroke.end) - at(record, stroke.start);
    };
    expect(lift(3)).toBeLessThan(0.3 * lift(25));
  });

  it('gives up when the pump stalls', () => {
    const { record, cycle } = first({ ...good, pump: { ...good.pump, stallPressure: 500 }, script: [{ rest: 2, target: 560, giveUpAfter: 30, vent: { when: 'after-stop', after: 5 } }] });
    expect(Math.max(...record.calm)).toBeLessThan(500);
    expect(cycle.stopped - cycle.rising).toBeGreaterThan(29);
  });

  it('is the same to the last bit for the same scenario and seed', () => {
    const [a, b, c] = [runScenario('pass-plain', 4), runScenario('pass-plain', 4), runScenario('pass-plain', 5)];
    expect(Buffer.from(a.samples.pressure.buffer).equals(Buffer.from(b.samples.pressure.buffer))).toBe(true);
    expect(Buffer.from(a.samples.time.buffer).equals(Buffer.from(b.samples.time.buffer))).toBe(true);
    expect(a.truth).toEqual(b.truth);
    expect(a.planText).not.toBe(c.planText);
  });
});
