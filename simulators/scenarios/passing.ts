import type { Scenario } from '../scenario.js';
import { changed, typical, type Wishes } from './typical.js';
import type { Random } from '../random.js';

const pass = (name: string, summary: string, build: Scenario['build']): Scenario => ({ name, summary, intends: { verdict: 'pass', rule: null }, build });
const tight = (name: string, summary: string, wishes: (random: Random) => Wishes): Scenario => pass(name, summary, (random) => typical(random, wishes(random)));

/** Tight assemblies on good and less good days. */
export const passing: readonly Scenario[] = [
  tight('pass-plain', 'a tight assembly, nothing odd', () => ({})),
  tight('pass-stiff-short', 'a stiff, short spiral hose: few strokes, steep steps', (r) => ({ bore: 9.525, length: r.between(0.5, 1), wallModulus: 40_000, creep: 0.015, strokes: 14, above: 0.03 })),
  tight('pass-soft-long', 'a long, soft hose: many strokes, much settling', (r) => ({ bore: 19.05, length: r.between(10, 20), wallModulus: 6000, creep: 0.07, strokes: 70, above: 0.03 })),
  tight('pass-small-pressure', 'a low test pressure on a small range', (r) => ({ testPressure: Math.round(r.between(40, 120)), bore: 25.4, above: 0.03 })),
  tight('pass-large-pressure', 'a test pressure above a thousand bar', (r) => ({ testPressure: 10 * Math.round(r.between(105, 165)), bore: 6.35 })),
  tight('pass-trapped-air', 'air left in the hose: soft start that stiffens', (r) => ({ air: r.between(0.015, 0.04), above: 0.035 })),
  tight('pass-1khz', 'sampled a thousand times a second', () => ({ rate: 1000 })),
  pass('pass-5hz-noisy', 'sampled five times a second through a noisy input', (random) => {
    const base = typical(random, { rate: 5 });
    return changed(base, { transducer: { noise: base.testPressure * random.between(0.0003, 0.0006), resolution: 0.1 } });
  }),
  pass('pass-lost-samples', 'one sample in fifty never arrives', (random) => changed(typical(random), { transducer: { lost: 0.02, jitter: 0.1 } })),
  pass('pass-long-idle', 'twenty minutes vented and idle before the run', (random) => {
    const base = typical(random, { rate: 20 });
    return changed(base, { script: { rest: 1200 + random.between(0, 30) } });
  }),
];
