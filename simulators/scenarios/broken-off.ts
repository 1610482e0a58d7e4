import type { Rule, Verdict } from '../../src/core/outcome.js';
import type { Moment } from '../operator.js';
import type { Random } from '../random.js';
import type { Scenario } from '../scenario.js';
import { changed, typical } from './typical.js';

const family = (name: string, summary: string, verdict: Verdict, rule: Rule | null, build: Scenario['build']): Scenario => ({
  name, summary, intends: { verdict, rule }, build,
});

/** An assembly that lets go at `start`: fully open within milliseconds, empty within some tens of them. */
function bursting(random: Random, start: (testPressure: number) => Moment) {
  const base = typical(random, { rate: random.pick([50, 100, 200]), holdTime: 60 });
  return changed(base, {
    bench: { bursts: [{ start: start(base.testPressure), opening: random.between(0.002, 0.01), fallTime: random.between(0.02, 0.07) }] },
  });
}

/** Runs that end before their time, or never get there. */
export const brokenOff: readonly Scenario[] = [
  family('burst-in-rise', 'the hose lets go on the way up', 'fail', 'burst', (r) => bursting(r, (p) => ({ when: 'rise', cycle: 0, pressure: r.between(0.5, 0.95) * p }))),
  family('burst-in-settling', 'the hose lets go shortly after the last stroke', 'fail', 'burst', (r) => bursting(r, () => ({ when: 'stopped', cycle: 0, after: r.between(2, 9) }))),
  family('burst-in-hold', 'the hose lets go during the hold', 'fail', 'burst', (r) => bursting(r, () => ({ when: 'hold', cycle: 0, after: r.between(12, 40) }))),
  family('vent-early', 'vented in the middle of the hold', 'inconclusive', 'hold', (random) =>
    changed(typical(random, { holdTime: 60 }), { script: { vent: { when: 'in-hold', after: random.between(10, 40) } } })),
  family('vent-before-hold', 'vented while still settling', 'inconclusive', 'hold', (random) =>
    changed(typical(random, { bore: 12.7 }), { script: { vent: { when: 'after-stop', after: random.between(3, 8) } } })),
  family('never-reached', 'the pump stalls below the band and is given up', 'inconclusive', 'reach', (random) =>
    changed(typical(random, { stall: random.between(0.85, 0.95) }), { script: { giveUpAfter: random.between(25, 45), vent: { when: 'after-stop', after: random.between(15, 40) } } })),
  family('stopped-short', 'the operator stops pumping well below the band', 'inconclusive', 'reach', (random) =>
    changed(typical(random, { above: random.between(-0.3, -0.1) }), { script: { vent: { when: 'after-stop', after: random.between(20, 50) } } })),
  family('settles-below-floor', 'stopped just inside the band; settling takes it below the minimum', 'inconclusive', 'hold', (random) => {
    const base = typical(random, { bore: 12.7, creep: 0.1, wallModulus: 8000, above: -0.004, strokes: 120 });
    return changed(base, { plan: { minimumPressure: `${Math.round(0.995 * base.testPressure)} bar` } });
  }),
  family('creeps-into-band', 'the pump is near its stall pressure and creeps into the band', 'pass', null, (random) =>
    changed(typical(random, { stall: random.between(1.055, 1.075), above: 0.02, bore: 9.525 }), { script: { giveUpAfter: 120 } })),
  family('pump-leaks-back', 'the outlet valve lets part of a stroke back when the pump stops', 'pass', null, (random) => {
    const base = typical(random, { above: 0.05, strokes: 60 });
    const { pump } = base.bench;
    return changed(base, { bench: { pump: { ...pump, stopLoss: pump.strokeVolume * random.between(0.6, 1.1), stopLossTime: random.between(0.2, 0.6) } } });
  }),
  family('pauses-in-rise', 'the operator stops twice on the way up to look', 'pass', null, (random) => {
    const base = typical(random);
    const pauses = [0.3, 0.7].map((share) => ({ pressure: share * base.testPressure, seconds: random.between(4, 20) }));
    return changed(base, { script: { pauses } });
  }),
  family('ends-pressurised', 'the recording stops in the middle of the hold', 'inconclusive', 'hold', (random) =>
    changed(typical(random, { holdTime: 60 }), { script: { vent: { when: 'never', after: random.between(15, 45) } } })),
  family('starts-pressurised', 'the recording begins in an earlier hold; a whole good run follows', 'pass', null, (random) => {
    const base = typical(random);
    const first = { ...base.script, vent: { when: 'in-hold', after: 12 } } as const;
    const second = { ...base.script, rest: random.between(66, 75) };
    return changed(base, { bench: { script: [first, second] }, cut: { from: { when: 'hold', cycle: 0, after: 8 } } });
  }),
];
