import type { Rule, Verdict } from '../../src/core/outcome.js';
import type { LeakSettings } from '../bench.js';
import type { FlowLaw } from '../hydraulics.js';
import type { Random } from '../random.js';
import type { Scenario } from '../scenario.js';
import { changed, planFor, typical, type Typical, type Wishes } from './typical.js';

const family = (name: string, summary: string, verdict: Verdict, rule: Rule | null, build: Scenario['build']): Scenario => ({
  name, summary, intends: { verdict, rule }, build,
});

const fromTheStart = { when: 'time', time: 0 } as const;

/** A leak that costs `share` of the test pressure a minute. */
const leakOf = (base: Typical, share: number, law: FlowLaw, rest: Partial<LeakSettings> = {}): LeakSettings => ({
  rate: share * base.testPressure, law, start: fromTheStart, ...rest,
});

/** Quick settling, so that a leak and not the water's cooling decides. */
const settlesQuickly = (random: Random): Wishes => ({ bore: random.pick([6.35, 9.525]), creep: random.between(0.01, 0.03), holdTime: 60 });

/** A leak limit of 0.4 % of the test pressure a minute, as a shop would round it. */
const leakLimit = (base: Typical): string => `${(0.004 * base.testPressure).toFixed(1)} bar/min`;

/** A leak from the start against a leak limit. */
function limited(random: Random, from: number, to: number, law: FlowLaw): Typical {
  const base = typical(random, settlesQuickly(random));
  return changed(base, {
    plan: { leakLimit: leakLimit(base), minimumPressure: `${Math.round(0.9 * base.testPressure)} bar` },
    bench: { leaks: [leakOf(base, 0.004 * random.between(from, to), law)] },
  });
}

/** A leak from the start that a loose minimum lets into the hold, against the drop. */
function dropping(random: Random, law: FlowLaw): Typical {
  const base = typical(random, settlesQuickly(random));
  return changed(base, {
    plan: { minimumPressure: `${Math.round(0.7 * base.testPressure)} bar` },
    bench: { leaks: [leakOf(base, random.between(0.045, 0.07), law)] },
  });
}

/** Assemblies that lose water, and some that only seem to. */
export const leaking: readonly Scenario[] = [
  family('leak-orifice', 'a steady leak well above the leak limit, flow with the root of pressure', 'fail', 'leak', (r) => limited(r, 2, 4, 'orifice')),
  family('leak-laminar', 'a seeping leak well above the leak limit, flow with the pressure', 'fail', 'leak', (r) => limited(r, 2, 4, 'laminar')),
  family('leak-constant', 'a leak of constant flow well above the leak limit', 'fail', 'leak', (r) => limited(r, 2, 4, 'constant')),
  family('leak-one-settling', 'a steady leak over a settling that is one plain exponential: the textbook case for a fit', 'fail', 'leak', (random) => {
    const base = limited(random, 2, 4, 'constant');
    const { assembly } = base.bench;
    // Water that cools at once leaves the creep of the hose alone; a transducer without gain error leaves the fit alone.
    const one = { ...assembly, cooling: 0.3, creep: [{ compliance: random.between(0.02, 0.05) * assembly.expansion, timeConstant: random.between(6, 12) }] };
    return changed(base, { transducer: { wander: 0, gainError: 0, drift: 0 }, bench: { leaks: base.bench.leaks, assembly: one } });
  }),
  family('leak-allowed', 'a leak well below the leak limit', 'pass', null, (r) => limited(r, 0.05, 0.25, r.pick(['orifice', 'laminar']))),
  { name: 'leak-near-limit', summary: 'a leak at the leak limit, give or take a little', intends: null, build: (r) => limited(r, 0.9, 1.1, 'orifice') },
  family('leak-limit-settling-only', 'no leak, plenty of settling, a leak limit in the plan', 'pass', null, (random) => {
    const base = typical(random, { bore: 9.525, creep: random.between(0.04, 0.08), holdTime: 60, above: 0.035 });
    return changed(base, { plan: { leakLimit: `${(0.006 * base.testPressure).toFixed(1)} bar/min` } });
  }),
  family('settling-only', 'a warm, soft hose that settles a lot and loses nothing', 'pass', null, (random) =>
    typical(random, { bore: 12.7, creep: random.between(0.08, 0.14), wallModulus: 8000, above: 0.045 })),
  family('drop-orifice', 'a leak from the start that takes more than the allowed drop', 'fail', 'drop', (r) => dropping(r, 'orifice')),
  family('drop-laminar', 'the same with seeping flow', 'fail', 'drop', (r) => dropping(r, 'laminar')),
  family('leak-starts-mid-hold', 'tight at first; a seal lets go in the middle of the hold', 'fail', 'drop', (random) => {
    const base = typical(random, settlesQuickly(random));
    const leak = leakOf(base, random.between(0.12, 0.2), 'orifice', { start: { when: 'hold', cycle: 0, after: random.between(18, 30) }, opening: random.between(0.1, 2) });
    return changed(base, { bench: { leaks: [leak] }, plan: { minimumPressure: `${Math.round(0.7 * base.testPressure)} bar` } });
  }),
  family('leak-grows', 'a leak that doubles again and again during the hold', 'fail', 'drop', (random) => {
    const base = typical(random, settlesQuickly(random));
    const leak = leakOf(base, random.between(0.01, 0.014), 'orifice', { start: { when: 'hold', cycle: 0, after: 0 }, doubling: random.between(10, 14) });
    return changed(base, { bench: { leaks: [leak] }, plan: { minimumPressure: `${Math.round(0.6 * base.testPressure)} bar` } });
  }),
  family('minimum-crossed', 'no drop limit; a leak in the hold carries the pressure below the minimum', 'fail', 'minimum', (random) => {
    const base = typical(random, { ...settlesQuickly(random), above: 0.02 });
    const leak = leakOf(base, random.between(0.12, 0.2), 'orifice', { start: { when: 'hold', cycle: 0, after: random.between(2, 8) }, opening: 0.5 });
    const { plan, testPressure, holdTime, minimumPressure, ceilingPressure } = planFor(base.testPressure, 60);
    return { ...changed(base, { bench: { leaks: [leak] } }), plan: { plan, testPressure, holdTime, minimumPressure, ceilingPressure } };
  }),
  family('falls-below-before-hold', 'a leak so large that the pressure is below the minimum before it settles', 'inconclusive', 'hold', (random) => {
    const base = typical(random, settlesQuickly(random));
    return changed(base, { bench: { leaks: [leakOf(base, random.between(0.3, 0.6), 'orifice')] } });
  }),
  family('leak-hidden-by-strokes', 'a leak that shows only once the pump has stopped', 'fail', 'leak', (random) => {
    const base = typical(random, { ...settlesQuickly(random), strokes: 60 });
    const leak = leakOf(base, random.between(0.01, 0.016), 'orifice', { start: { when: 'stopped', cycle: 0, after: 0 } });
    return changed(base, { bench: { leaks: [leak] }, plan: { leakLimit: leakLimit(base), minimumPressure: `${Math.round(0.9 * base.testPressure)} bar` } });
  }),
];
