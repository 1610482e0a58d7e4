import type { Rule, Verdict } from '../../src/core/outcome.js';
import type { CycleScript } from '../operator.js';
import type { Random } from '../random.js';
import type { Scenario } from '../scenario.js';
import { changed, typical, type Typical } from './typical.js';

const family = (name: string, summary: string, verdict: Verdict, rule: Rule | null, build: Scenario['build']): Scenario => ({
  name, summary, intends: { verdict, rule }, build,
});

/** A plan of three cycles and the cycles that were really done. */
function three(random: Random, cycles: (good: CycleScript) => readonly CycleScript[]): Typical {
  const base = typical(random, { bore: random.pick([6.35, 9.525]), holdTime: 30 });
  return changed(base, { plan: { cycles: 3 }, bench: { script: cycles({ ...base.script, rest: random.between(4, 10) }), tail: 66 } });
}

/** Water added in the hold. */
function topped(random: Random, options: { readonly allow: boolean; readonly leak: number }): Typical {
  const base = typical(random, { bore: random.pick([6.35, 9.525]), holdTime: 60, strokes: 60, rate: random.pick([50, 100]) });
  return changed(base, {
    plan: { allowTopUp: options.allow, minimumPressure: `${Math.round(0.9 * base.testPressure)} bar` },
    bench: { leaks: options.leak > 0 ? [{ rate: options.leak * base.testPressure, law: 'orifice', start: { when: 'hold', cycle: 0, after: 0 } }] : [] },
    script: { topUps: [{ after: random.between(25, 35), strokes: 1 }] },
  });
}

/** Several cycles, and water added again. */
export const repeated: readonly Scenario[] = [
  family('three-cycles', 'three good pressurisations under a plan of three', 'pass', null, (r) => three(r, (good) => [good, good, good])),
  family('three-cycles-second-leaks', 'a seal gives way in the second of three', 'fail', 'drop', (random) => {
    const base = three(random, (good) => [good, good, good]);
    const leak = { rate: random.between(0.12, 0.18) * base.testPressure, law: 'orifice', start: { when: 'hold', cycle: 1, after: 2 } } as const;
    const script = base.bench.script.slice(0, 2);
    return changed(base, { bench: { leaks: [leak], script, tail: 66 }, plan: { minimumPressure: `${Math.round(0.6 * base.testPressure)} bar` } });
  }),
  family('three-cycles-one-missing', 'two good pressurisations where the plan wants three', 'inconclusive', 'cycles', (r) => three(r, (good) => [good, good])),
  family('three-cycles-one-cut-short', 'the second of three is vented in the middle of its hold', 'inconclusive', 'hold', (r) =>
    three(r, (good) => [good, { ...good, vent: { when: 'in-hold', after: r.between(8, 20) } }, good])),
  family('top-up-hides-leak', 'a stroke in the hold covers what a leak took', 'inconclusive', 'top-up', (r) => topped(r, { allow: false, leak: r.between(0.006, 0.01) })),
  family('top-up-tight', 'a stroke in the hold without need', 'inconclusive', 'top-up', (r) => topped(r, { allow: false, leak: 0 })),
  family('top-up-allowed', 'the plan allows a stroke in the hold; loss and rise together stay within the drop', 'pass', null, (random) => {
    const base = topped(random, { allow: true, leak: random.between(0.002, 0.006) });
    return changed(base, { plan: { maximumDrop: '6 %' }, bench: { leaks: base.bench.leaks } });
  }),
  family('top-up-allowed-but-leaks', 'the plan allows a stroke in the hold, yet loss and rise together exceed the drop', 'fail', 'drop', (random) => {
    const base = topped(random, { allow: true, leak: random.between(0.05, 0.07) });
    return changed(base, { plan: { maximumDrop: '3 %', minimumPressure: `${Math.round(0.8 * base.testPressure)} bar` }, bench: { leaks: base.bench.leaks } });
  }),
  family('retouched-while-settling', 'one more stroke while settling; the quiet time begins again', 'pass', null, (random) =>
    changed(typical(random, { strokes: 60 }), { script: { retouches: [{ after: random.between(4, 9), strokes: 1 }] } })),
];
