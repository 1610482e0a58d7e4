/** A link that sends each reading several times: the sensor is no quieter for it. Drawn by hand; that they occur is common practice. */
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { freshNoise, isSentAgain, learnNoise, learnStep, movingSigma } from '../../src/core/reading/noise.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { traceOf, type Trace } from '../../src/core/trace.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'again', testPressure: '100 bar', holdTime: '30 s', minimumPressure: '96 bar', maximumDrop: '4 %' }, 'p');
function one(trace: Trace): Outcome {
  const [outcome] = judge(trace, plan, standardThresholds, {});
  if (outcome === undefined) throw new Error('no run');
  return outcome;
}

/** Every reading `times` times, the sensor read every `interval` s in between. */
function sentAgain({ time, pressure }: Trace, times: number, interval: number): Trace {
  const stamps: number[] = [], values: number[] = [];
  time.forEach((t, i) => {
    for (let k = 0; k < times; k++) {
      stamps.push(Number((t + (k * interval) / times).toFixed(6)));
      values.push(pressure[i] as number);
    }
  });
  return traceOf(stamps, values);
}
/** `sigma` bar of noise in steps of 0.01 bar until the hold, `inHold` bar in it. */
const run = (interval: number, sigma: number, inHold = sigma): Trace => {
  const b = new TraceBuilder(interval, sigma, 0.01, 3).level(30, 0);
  for (let k = 0; k < 5; k++) b.ramp(0.4, 20.4 * k, 20.4 * (k + 1)).level(0.6, 20.4 * (k + 1));
  return b.shape(80, (t) => 101 + Math.exp(-t / 4), inHold).ramp(3, 101, 0).level(10, 0).trace;
};

describe.each([2, 3, 5])('readings that come %s times', (times) => {
  it.each([0.1, 0.2])('leave a sound hold sound, and its noise what it is: sensor read each %s s', (interval) => {
    const outcome = one(sentAgain(run(interval, 0.1), times, interval));
    expect(outcome.verdict).toBe('pass');
    expect(outcome.signal.noise).toBeGreaterThan(0.07);
    expect(outcome.signal.noise).toBeLessThan(0.13);
  });

  it('do not hide a shut gauge valve: far less noise in the hold', () => {
    const outcome = one(sentAgain(run(0.1, 0.1, 0.002), times, 0.1));
    expect(outcome.verdict).toBe('inconclusive');
    expect(outcome.findings.find(({ rule }) => rule === 'data')?.sentence).toMatch(/shut gauge valve/);
  });
});

describe('the noise of a reading', () => {
  const learn = (values: readonly number[]) => {
    const s = freshNoise();
    let again = 0;
    for (const p of values) {
      learnStep(s, p);
      learnNoise(s, p);
      if (isSentAgain(s)) again++;
    }
    return { sigma: movingSigma(s), again };
  };

  it('that often shows one number because its steps are coarse is not taken for one that is sent again', () => {
    const { pressure } = new TraceBuilder(0.1, 0.06, 0.1, 5).level(400, 100).trace;
    expect(learn([...pressure]).again).toBe(0);
  });

  it('that stands still comes down to nothing', () => {
    const { pressure } = new TraceBuilder(0.1, 0.1, 0.01, 5).level(30, 100).trace;
    expect(learn([...pressure, ...new Array<number>(900).fill(100)]).sigma).toBeLessThan(0.001);
  });
});
