import type { Rule, Verdict } from '../../src/core/outcome.js';
import type { BenchSetup, LeakSettings } from '../bench.js';
import type { CycleScript } from '../operator.js';
import type { Random } from '../random.js';
import type { Scenario, ScenarioSetup, Written } from '../scenario.js';
import type { SignalFault } from '../transducer.js';

/** One bench, one plan, one set of thresholds for a row of short runs that follow each other on the same instrument. */
interface Setting {
  readonly plan: Written;
  readonly thresholds: Written;
  /** s */ readonly rest: number;
  /** s vented at the end; longer than `runEnd`, so that a run cut short is over before the next begins. */
  readonly tail: number;
  /** bar */ readonly target: number;
  readonly pump: BenchSetup['pump'];
  /** s: cooling of the water and creep of the hose, shorter than a real DN12's so that runs are short. */
  readonly cooling: number;
  readonly creepTime: number;
  readonly rate: number;
}

/** Thresholds under which the demo's runs take about a minute. */
export const demoThresholds: Written = {
  thresholds: 'demo, short runs',
  quietTime: '4 s',
  settleWindow: '4 s',
  settleSlope: '1 %/min',
  settleTimeout: '30 s',
  runEnd: '4 s',
};

/** The one plan of the demo: an invented shop's proof of a two-wire DN12 hose. */
export const demoPlan: Written = {
  plan: 'two-wire DN12 proof',
  testPressure: '550 bar',
  holdTime: '20 s',
  minimumPressure: '530 bar',
  maximumDrop: '3 %',
  ceilingPressure: '600 bar',
  leakLimit: '3 bar/min',
};

/** Thresholds under which a whole run takes less than twenty seconds, for tests of the whole daemon in real time. */
export const testThresholds: Written = {
  thresholds: 'test, very short runs',
  quietTime: '1 s',
  settleWindow: '1 s',
  settleSlope: '5 %/min',
  settleTimeout: '8 s',
  runEnd: '2 s',
  flatlineTime: '10 s',
};

/** The plan of the short test runs; `live-three-cycles` wants three cycles of it. */
export const testPlan: Written = {
  plan: 'short proof',
  testPressure: '550 bar',
  holdTime: '4 s',
  minimumPressure: '500 bar',
  maximumDrop: '3 %',
  ceilingPressure: '640 bar',
};

const pump = { pushTime: 0.12, returnTime: 0.12, stallPressure: 1000, strokeLoss: 0, stopLoss: 0, stopLossTime: 0.3 } as const;
const demo: Setting = { plan: demoPlan, thresholds: demoThresholds, rest: 3, tail: 6, target: 560, rate: 100, cooling: 5, creepTime: 2.5, pump: { ...pump, strokeVolume: 1.5 } };
const test: Setting = { plan: testPlan, thresholds: testThresholds, rest: 1.5, tail: 3.5, target: 562, rate: 50, cooling: 1.2, creepTime: 0.5, pump: { ...pump, pushTime: 0.06, returnTime: 0.08, strokeVolume: 2.6 } };

interface Parts {
  readonly script?: Partial<CycleScript>;
  readonly cycles?: number;
  readonly plan?: Written;
  readonly bench?: Partial<Pick<BenchSetup, 'bursts' | 'hammers' | 'pump'>> & { readonly leaks?: readonly LeakSettings[] };
  readonly faults?: readonly SignalFault[];
}

/** Three assemblies of DN12 on a manifold. */
function setup(setting: Setting, random: Random, parts: Parts): ScenarioSetup {
  const script: CycleScript = { rest: setting.rest, target: setting.target, vent: { when: 'after-hold', margin: 2 }, ...parts.script };
  return {
    plan: { ...setting.plan, ...parts.plan },
    thresholds: setting.thresholds,
    instrument: { resolution: 0.01, range: { lower: 0, upper: 1000 }, accuracyClass: 0.25 },
    bench: {
      assembly: {
        volume: 600 + random.between(-40, 40), expansion: 0.04 + random.between(-0.004, 0.004), air: 0.4, temperature: 20, cooling: setting.cooling,
        creep: [{ compliance: 0.0004, timeConstant: setting.creepTime }],
      },
      pump: setting.pump,
      vent: { opening: 0.3, fallTime: 1 },
      leaks: [], bursts: [], hammers: [],
      script: Array.from({ length: parts.cycles ?? 1 }, () => script),
      tail: setting.tail,
      ...parts.bench,
    },
    transducer: {
      rate: setting.rate, jitter: 0.02, lag: 0.002, noise: 0.08, wander: 0.01, drift: 0, gainError: 0, zeroError: 0.1,
      resolution: 0.01, range: 1000, lost: 0, unitFactor: 1,
    },
    faults: parts.faults ?? [],
  };
}

const entry = (setting: Setting, name: string, summary: string, verdict: Verdict, rule: Rule | null, parts: Parts): Scenario => ({
  name, summary, intends: { verdict, rule }, build: (random) => setup(setting, random, parts),
});

const inHold = (after: number) => ({ when: 'hold', cycle: 0, after }) as const;
const burst = (after: number) => ({ start: inHold(after), opening: 0.004, fallTime: 0.05 });
const leak = (rate: number, start: LeakSettings['start']): LeakSettings => ({ rate, law: 'orifice', start, opening: 0.2 });
const weak = (p: BenchSetup['pump']) => ({ ...p, stallPressure: 480 });

/** The demo's runs, in the order in which they are played. */
export const demoPlaylist: readonly Scenario[] = [
  entry(demo, 'demo-pass', 'demo: a tight assembly', 'pass', null, {}),
  entry(demo, 'demo-drop', 'demo: a seal lets go in the hold', 'fail', 'drop', { bench: { leaks: [leak(110, inHold(4))] } }),
  entry(demo, 'demo-glitch', 'demo: electrical glitches that do not matter', 'pass', null, {
    faults: [
      { kind: 'glitch', start: inHold(6), height: 240, samples: 1 },
      { kind: 'glitch', start: inHold(13), height: -310, samples: 2 },
    ],
  }),
  entry(demo, 'demo-leak', 'demo: a small steady leak, well within the drop', 'fail', 'leak', { bench: { leaks: [leak(5, { when: 'time', time: 0 })] } }),
  entry(demo, 'demo-vent-early', 'demo: vented before the hold is over', 'inconclusive', 'hold', { script: { vent: { when: 'in-hold', after: 11 } } }),
  entry(demo, 'demo-top-up', 'demo: a stroke during the hold', 'inconclusive', 'top-up', { script: { topUps: [{ after: 10, strokes: 1 }] } }),
  entry(demo, 'demo-burst', 'demo: the hose lets go in the hold', 'fail', 'burst', { bench: { bursts: [burst(9)] } }),
  entry(demo, 'demo-never-reached', 'demo: too little air pressure, the band is never reached', 'inconclusive', 'reach', {
    script: { giveUpAfter: 25, vent: { when: 'after-stop', after: 8 } }, bench: { pump: weak(demo.pump) },
  }),
  entry(demo, 'demo-spike', 'demo: a water hammer above the ceiling', 'fail', 'ceiling', {
    bench: { hammers: [{ start: { when: 'rise', cycle: 0, pressure: 535 }, height: 95, width: 0.12 }] },
  }),
];

/** Short whole runs for a test of the daemon in real time; all but the last share one plan. */
export const testPlaylist: readonly Scenario[] = [
  entry(test, 'live-pass', 'short: a tight assembly', 'pass', null, {}),
  entry(test, 'live-drop', 'short: a seal lets go in the hold', 'fail', 'drop', { bench: { leaks: [leak(600, inHold(0.2))] } }),
  entry(test, 'live-burst', 'short: the hose lets go in the hold', 'fail', 'burst', { bench: { bursts: [burst(2)] } }),
  entry(test, 'live-vent-early', 'short: vented before the hold is over', 'inconclusive', 'hold', { script: { vent: { when: 'in-hold', after: 2 } } }),
  entry(test, 'live-never-reached', 'short: the band is never reached', 'inconclusive', 'reach', {
    script: { giveUpAfter: 6, vent: { when: 'after-stop', after: 3 } }, bench: { pump: weak(test.pump) },
  }),
  entry(test, 'live-top-up', 'short: a stroke during the hold', 'inconclusive', 'top-up', { script: { topUps: [{ after: 2, strokes: 1 }] } }),
  entry(test, 'live-over-ceiling', 'short: the operator pumps through the ceiling', 'fail', 'ceiling', { script: { target: 665 } }),
  entry(test, 'live-three-cycles', 'short: three good pressurisations', 'pass', null, { cycles: 3, plan: { cycles: 3, holdTime: '2 s' } }),
];
