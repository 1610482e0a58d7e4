import type { Rule, Verdict } from '../../src/core/outcome.js';
import type { Random } from '../random.js';
import type { Scenario } from '../scenario.js';
import type { SignalFault } from '../transducer.js';
import { changed, typical } from './typical.js';

const family = (name: string, summary: string, verdict: Verdict, rule: Rule | null, build: Scenario['build']): Scenario => ({
  name, summary, intends: { verdict, rule }, build,
});

/** A pulse wide enough that the samples show it as water and not as electricity. */
const pulse = (random: Random, height: number) => ({ height, width: random.between(0.09, 0.2) });

/** Fast enough to see a spike. */
const quick = (random: Random) => ({ rate: random.pick([100, 200, 500]), above: random.between(0.015, 0.025) });

/** A single wild sample or two to three of them; the larger the quicker its edges. */
const wild = (random: Random, start: SignalFault['start'], height: number, samples: number): SignalFault => ({ kind: 'glitch', start, height: height * random.between(0.9, 1.2), samples });

const inHold = (random: Random, cycle = 0) => ({ when: 'hold', cycle, after: random.between(5, 25) }) as const;

/** Spikes, over-pressure, glitches. */
export const peaks: readonly Scenario[] = [
  family('spike-below-ceiling', 'a water hammer in the hold that stays below the ceiling', 'pass', null, (random) => {
    const base = typical(random, quick(random));
    return changed(base, { bench: { hammers: [{ start: inHold(random), ...pulse(random, 0.045 * base.testPressure) }] } });
  }),
  family('spikes-in-rise', 'hard strokes with hammer on the way up, all below the ceiling', 'pass', null, (random) => {
    const base = typical(random, quick(random));
    const hammers = [0.4, 0.6, 0.8].map((share) => ({ start: { when: 'rise', cycle: 0, pressure: share * base.testPressure } as const, ...pulse(random, random.between(0.03, 0.08) * base.testPressure) }));
    return changed(base, { bench: { hammers } });
  }),
  family('spike-above-ceiling-rise', 'a hammer above the ceiling at the end of the rise', 'fail', 'ceiling', (random) => {
    const base = typical(random, quick(random));
    return changed(base, { bench: { hammers: [{ start: { when: 'rise', cycle: 0, pressure: 0.97 * base.testPressure }, ...pulse(random, random.between(0.18, 0.25) * base.testPressure) }] } });
  }),
  family('spike-above-ceiling-hold', 'a hammer above the ceiling in the hold', 'fail', 'ceiling', (random) => {
    const base = typical(random, quick(random));
    return changed(base, { bench: { hammers: [{ start: inHold(random), ...pulse(random, random.between(0.13, 0.2) * base.testPressure) }] } });
  }),
  {
    name: 'spike-at-ceiling', summary: 'a hammer that just about touches the ceiling', intends: null,
    build: (random) => {
      const base = typical(random, { ...quick(random), above: 0.02 });
      return changed(base, { bench: { hammers: [{ start: inHold(random), ...pulse(random, random.between(0.085, 0.115) * base.testPressure) }] } });
    },
  },
  family('spike-too-short-to-see', 'a hammer of a few milliseconds above the ceiling, sampled ten times a second', 'fail', 'ceiling', (random) => {
    const base = typical(random, { rate: 10 });
    return changed(base, { bench: { hammers: [{ start: inHold(random), height: 0.2 * base.testPressure, width: random.between(0.004, 0.012) }] } });
  }),
  family('over-eager-strokes', 'the operator pumps on, through the ceiling', 'fail', 'ceiling', (random) => {
    const base = typical(random, { above: random.between(0.13, 0.18) });
    return changed(base, { plan: { minimumPressure: `${Math.round(0.95 * base.testPressure)} bar` } });
  }),
  family('overshoot-below-ceiling', 'a few strokes too many, still below the ceiling', 'pass', null, (r) => typical(r, { above: r.between(0.05, 0.06), strokes: 60 })),
  family('glitch-above-ceiling', 'electrical: single samples far above the ceiling', 'pass', null, (random) => {
    const base = typical(random, { rate: random.pick([100, 200, 500]) });
    const height = 0.32 * base.testPressure;
    return changed(base, {
      transducer: { range: 2 * base.transducer.range },
      faults: [wild(random, inHold(random), height, 1), wild(random, { when: 'stopped', cycle: 0, after: random.between(1, 8) }, height, 1)],
    });
  }),
  family('glitch-below-minimum', 'electrical: single samples far below the minimum, during the hold', 'pass', null, (random) => {
    const base = typical(random, { rate: random.pick([50, 100, 200]) });
    return changed(base, { faults: [wild(random, inHold(random), -0.6 * base.testPressure, 1), wild(random, inHold(random), -0.5 * base.testPressure, 1)] });
  }),
  family('glitch-triple', 'electrical: two or three samples in a row, far too steep for water', 'pass', null, (random) => {
    const base = typical(random, { rate: random.pick([100, 200, 500]) });
    return changed(base, {
      transducer: { range: 2 * base.transducer.range },
      faults: [wild(random, inHold(random), 0.42 * base.testPressure, random.whole(2, 3)), wild(random, inHold(random), -0.5 * base.testPressure, random.whole(2, 3))],
    });
  }),
  family('glitch-in-rise', 'electrical: wild samples of either sign while strokes come fast', 'pass', null, (random) => {
    const base = typical(random, { rate: random.pick([100, 200]) });
    const at = (share: number) => ({ when: 'rise', cycle: 0, pressure: share * base.testPressure }) as const;
    return changed(base, {
      transducer: { range: 2 * base.transducer.range },
      faults: [wild(random, at(0.2), 0.5 * base.testPressure, 1), wild(random, at(0.5), -0.4 * base.testPressure, 2), wild(random, at(0.85), 0.4 * base.testPressure, 1)],
    });
  }),
  family('glitch-shower', 'a loose cable: a dozen wild samples over the whole run', 'pass', null, (random) => {
    const base = typical(random, { rate: 100 });
    const faults = Array.from({ length: 12 }, (_, i) => wild(random, { when: 'stopped', cycle: 0, after: 2 + 4 * i + random.between(0, 3) }, (random.chance(0.5) ? 0.45 : -0.5) * base.testPressure, 1));
    return changed(base, { transducer: { range: 2 * base.transducer.range }, faults });
  }),
  family('rise-too-fast', 'the pump races; the plan limits the rate of rise', 'fail', 'rise', (random) => {
    const base = typical(random, { strokes: 18, above: 0.03 });
    return changed(base, { plan: { riseRate: { maximum: `${Math.round(0.02 * base.testPressure)} bar/s` } } });
  }),
  family('rise-within-limit', 'an ordinary rise under a rate limit', 'pass', null, (random) => {
    const base = typical(random);
    return changed(base, { plan: { riseRate: { maximum: `${Math.round(0.5 * base.testPressure)} bar/s` } } });
  }),
];
