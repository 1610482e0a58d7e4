import type { Rule, Verdict } from '../../src/core/outcome.js';
import type { Scenario } from '../scenario.js';
import { changed, typical, type Typical } from './typical.js';

const family = (name: string, summary: string, verdict: Verdict, rule: Rule | null, build: Scenario['build']): Scenario => ({
  name, summary, intends: { verdict, rule }, build,
});

/** A guarded plan whose allowed drop is `ratio` times what is really lost; the loss comes from a leak in the hold. */
function guarded(base: Typical, lossShare: number, ratio: number): Typical {
  const allowed = (lossShare * base.testPressure) / ratio;
  return changed(base, {
    plan: { decisionRule: 'guarded', maximumDrop: `${allowed.toFixed(1)} bar`, minimumPressure: `${Math.round(0.7 * base.testPressure)} bar` },
    instrument: { accuracyClass: 0.25 },
    bench: { leaks: [{ rate: lossShare * base.testPressure, law: 'constant', start: { when: 'hold', cycle: 0, after: 0 } }] },
  });
}

/** Readings that cannot be trusted, and limits that lie within the uncertainty. */
export const doubtful: readonly Scenario[] = [
  family('gap-in-hold', 'the signal is away for some seconds of the hold', 'inconclusive', 'data', (random) =>
    changed(typical(random), { faults: [{ kind: 'gap', start: { when: 'hold', cycle: 0, after: random.between(8, 18) }, duration: random.between(2, 8) }] })),
  family('gap-while-vented', 'the signal is away before the run begins', 'pass', null, (random) =>
    changed(typical(random), { script: { rest: 30 }, faults: [{ kind: 'gap', start: { when: 'time', time: 6 }, duration: random.between(2, 8) }] })),
  family('loop-fault-in-hold', 'a wire comes off for some seconds: far below zero, then back', 'inconclusive', 'data', (random) => {
    const base = typical(random, { rate: random.pick([50, 100]) });
    const fault = { kind: 'loop-fault', start: { when: 'hold', cycle: 0, after: random.between(8, 18) }, duration: random.between(2, 6), reading: -0.05 * base.transducer.range } as const;
    return changed(base, { faults: [fault] });
  }),
  family('saturated', 'the range ends below the pressure: readings stop at its end', 'inconclusive', 'data', (random) => {
    const base = typical(random, { above: 0.03 });
    return changed(base, { transducer: { range: Math.round(base.testPressure * 0.995) } });
  }),
  family('flatline', 'the instrument repeats one reading for the rest of the recording', 'inconclusive', 'data', (random) =>
    changed(typical(random), { bench: { tail: 40 }, faults: [{ kind: 'frozen', start: { when: 'hold', cycle: 0, after: random.between(1, 10) }, duration: Number.POSITIVE_INFINITY }] })),
  family('gauge-valve-shut', 'the valve to the transducer is shut after the last stroke: a perfect line that no vent moves', 'inconclusive', 'data', (random) => {
    const base = typical(random);
    const script = { ...base.script, vent: { when: 'after-hold', margin: 5 } } as const;
    const shut = { kind: 'shut-valve', start: { when: 'stopped', cycle: 0, after: random.between(2, 8) }, duration: Number.POSITIVE_INFINITY, fall: 0 } as const;
    return changed(base, { bench: { script: [script], tail: 40 }, faults: [shut] });
  }),
  family('zero-shift-after-spike', 'a hammer strains the transducer: its zero has moved when the bench is vented', 'inconclusive', 'data', (random) => {
    const base = typical(random, { rate: random.pick([100, 200]), above: 0.02 });
    const start = { when: 'rise', cycle: 0, pressure: 0.8 * base.testPressure } as const;
    return changed(base, {
      bench: { hammers: [{ start, height: 0.2 * base.testPressure, width: 0.1 }], tail: 8 },
      faults: [{ kind: 'zero-shift', start, size: random.between(0.009, 0.016) * base.testPressure }],
    });
  }),
  family('zero-off-from-start', 'the vented reading is off by several bar before anything happens', 'inconclusive', 'data', (random) => {
    const base = typical(random);
    return changed(base, { transducer: { zeroError: random.between(0.009, 0.02) * base.testPressure } });
  }),
  family('unit-mpa-as-bar', 'the instrument shows MPa, the bench takes it for bar', 'inconclusive', 'data', (random) =>
    changed(typical(random), { transducer: { unitFactor: 0.1 } })),
  family('unit-psi-as-bar', 'the instrument shows psi, the bench takes it for bar', 'inconclusive', 'data', (random) =>
    changed(typical(random), { transducer: { unitFactor: 14.503773773 } })),
  family('guarded-clear', 'guarded rule, a loss far below the limit', 'pass', null, (random) =>
    guarded(typical(random, { holdTime: 60, bore: random.pick([6.35, 9.525]) }), 0.004, 0.2)),
  family('guarded-near-limit', 'guarded rule, a loss within the guard band of the limit', 'inconclusive', 'drop', (random) =>
    guarded(typical(random, { holdTime: 60, bore: random.pick([6.35, 9.525]) }), 0.02, random.between(0.99, 1))),
  family('guarded-over', 'guarded rule, a loss far above the limit', 'fail', 'drop', (random) =>
    guarded(typical(random, { holdTime: 60, bore: random.pick([6.35, 9.525]) }), 0.04, 2.2)),
  {
    name: 'drop-near-limit', summary: 'simple rule, a loss at the limit, give or take the noise', intends: null,
    build: (random) => {
      const base = typical(random, { holdTime: 60, bore: 9.525, rate: 50 });
      return changed(base, {
        plan: { maximumDrop: `${(0.02 * base.testPressure).toFixed(1)} bar`, minimumPressure: `${Math.round(0.9 * base.testPressure)} bar` },
        bench: { leaks: [{ rate: 0.02 * base.testPressure * random.between(0.97, 1.01), law: 'constant', start: { when: 'hold', cycle: 0, after: 0 } }] },
      });
    },
  },
];
