import { coolingTime, Hydraulics, type AssemblySettings } from '../hydraulics.js';
import type { CycleScript, VentPlan } from '../operator.js';
import type { PumpSettings } from '../pump.js';
import type { Random } from '../random.js';
import type { ScenarioSetup, Written } from '../scenario.js';
import type { TransducerSettings } from '../transducer.js';

/** What a family may fix; everything else is drawn from the seed. */
export interface Wishes {
  /** bar */ readonly testPressure?: number;
  /** mm */ readonly bore?: number;
  /** m of hose on the manifold, all together. */ readonly length?: number;
  /** s */ readonly holdTime?: number;
  /** bar by which the wall material would have to be squeezed: larger is stiffer. */ readonly wallModulus?: number;
  /** Share of the hose's elastic widening that creeps. */ readonly creep?: number;
  /** Air at atmospheric pressure as a share of the volume. */ readonly air?: number;
  /** Pump strokes to the test pressure. */ readonly strokes?: number;
  /** Hz */ readonly rate?: number;
  /** Target above the test pressure, as a share of it. */ readonly above?: number;
  /** Stall pressure relative to the test pressure. */ readonly stall?: number;
}

type Size = readonly [bore: number, low: number, high: number];

/** Test pressures that suit a bore: mm, bar from, bar to. */
const sizes: readonly [Size, ...Size[]] = [
  [6.35, 500, 1200],
  [9.525, 400, 1000],
  [12.7, 300, 800],
  [19.05, 250, 600],
  [25.4, 200, 450],
];

/** A plausible bench of the trade, drawn from the seed: hoses, pump, transducer, plan and an operator who does it right. */
export interface Typical extends ScenarioSetup {
  /** bar */ readonly testPressure: number;
  readonly script: CycleScript;
}

const toStep = (value: number, step: number): number => Math.round(Math.round(value / step) * step * 1e6) / 1e6;

/** Draws a bench. Orders of magnitude are common practice: 25 to 60 strokes, 10 to 30 s of rise, a few bar of settling. */
export function typical(random: Random, wishes: Wishes = {}): Typical {
  const [bore, low, high] = sizes.find(([b]) => b === wishes.bore) ?? random.pick(sizes);
  const drawnPressure = random.between(low, high);
  const drawnLength = random.between(1, 6);
  const testPressure = wishes.testPressure ?? toStep(drawnPressure, 5);
  const assembly = assemblyOf(random, wishes.bore ?? bore, wishes.length ?? drawnLength, wishes);
  const pump = pumpFor(random, assembly, testPressure, wishes);
  const drawnAbove = random.between(0.018, 0.032);
  const drawnHold = random.pick([30, 30, 60]);
  const script: CycleScript = {
    rest: random.between(2.5, 6),
    target: testPressure * (1 + (wishes.above ?? drawnAbove)),
    vent: { when: 'after-hold', margin: random.between(3, 8) },
  };
  const transducer = transducerFor(random, testPressure, wishes);
  return {
    testPressure,
    script,
    plan: planFor(testPressure, wishes.holdTime ?? drawnHold),
    instrument: { resolution: transducer.resolution, range: { lower: 0, upper: transducer.range }, accuracyClass: 0.25 },
    bench: {
      assembly, pump,
      vent: { opening: random.between(0.2, 0.8), fallTime: random.between(0.8, 3) },
      leaks: [], bursts: [], hammers: [], script: [script], tail: random.between(4, 7),
    },
    transducer,
    faults: [],
  };
}

/** A plan as a shop would write it: minimum 96.5 %, drop 3 %, ceiling 110 %. */
export const planFor = (testPressure: number, holdTime: number): Written => ({
  plan: `proof at ${testPressure} bar`,
  testPressure: `${testPressure} bar`,
  holdTime: `${holdTime} s`,
  minimumPressure: `${toStep(0.965 * testPressure, 0.5)} bar`,
  maximumDrop: '3 %',
  ceilingPressure: `${toStep(1.1 * testPressure, 1)} bar`,
});

function assemblyOf(random: Random, bore: number, length: number, wishes: Wishes): AssemblySettings {
  // 1 mm2 of bore is 1 ml per metre.
  const hose = (Math.PI / 4) * bore * bore * length;
  const manifold = random.between(40, 160);
  const modulus = random.between(9000, 22000);
  const creepShare = random.between(0.02, 0.06);
  const times = [random.between(3, 9), random.between(15, 35)] as const;
  const airShare = random.between(0.0002, 0.002);
  const wall = random.between(0.5, 0.9);
  const expansion = hose / (wishes.wallModulus ?? modulus) + manifold / 100_000;
  const creep = (wishes.creep ?? creepShare) * expansion;
  return {
    volume: hose + manifold,
    expansion,
    creep: [
      { compliance: 0.7 * creep, timeConstant: times[0] },
      { compliance: 0.3 * creep, timeConstant: times[1] },
    ],
    air: (wishes.air ?? airShare) * (hose + manifold),
    // Stirring by the strokes shortens conduction's time a little.
    cooling: wall * coolingTime(bore),
    temperature: random.between(14, 26),
  };
}

function pumpFor(random: Random, assembly: AssemblySettings, testPressure: number, wishes: Wishes): PumpSettings {
  const drawn = random.between(25, 55);
  const strokes = wishes.strokes ?? drawn;
  const needed = new Hydraulics(assembly).complianceAt(testPressure / 2) * testPressure;
  const interval = random.between(0.3, 0.6);
  const stall = random.between(1.5, 2.2);
  return {
    strokeVolume: (1.1 * needed) / strokes,
    pushTime: interval * 0.35,
    returnTime: interval * 0.35,
    stallPressure: testPressure * (wishes.stall ?? stall),
    strokeLoss: random.between(0, 0.03) * (needed / strokes),
    stopLoss: 0,
    stopLossTime: 0.3,
  };
}

const ranges = [250, 400, 600, 1000, 1600, 2500] as const;

function transducerFor(random: Random, testPressure: number, wishes: Wishes): TransducerSettings {
  const range = ranges.find((r) => r > 1.3 * testPressure) ?? 4000;
  const drawnRate = random.pick([50, 100, 100, 200]);
  return {
    rate: wishes.rate ?? drawnRate,
    jitter: random.between(0, 0.04),
    lag: random.between(0.001, 0.004),
    noise: range * random.between(0.00004, 0.00015),
    wander: random.chance(0.5) ? 0 : range * random.between(0.000005, 0.00002),
    drift: 0,
    gainError: random.between(-0.0008, 0.0008),
    zeroError: testPressure * random.between(-0.0008, 0.0008),
    resolution: random.pick([0.01, 0.01, 0.1]),
    range,
    lost: 0,
    unitFactor: 1,
  };
}

/** The same bench with other parts; what is given replaces what was drawn. */
export function changed(base: Typical, parts: {
  readonly plan?: Written;
  readonly bench?: Partial<ScenarioSetup['bench']>;
  readonly transducer?: Partial<TransducerSettings>;
  readonly script?: Partial<CycleScript>;
  readonly faults?: ScenarioSetup['faults'];
  readonly cut?: NonNullable<ScenarioSetup['cut']>;
  readonly thresholds?: Written;
  readonly instrument?: Partial<ScenarioSetup['instrument']>;
}): Typical {
  const script = { ...base.script, ...parts.script };
  const transducer = { ...base.transducer, ...parts.transducer };
  return {
    ...base,
    ...(parts.cut === undefined ? {} : { cut: parts.cut }),
    ...(parts.thresholds === undefined ? {} : { thresholds: parts.thresholds }),
    script,
    plan: { ...base.plan, ...parts.plan },
    bench: { ...base.bench, script: [script], ...parts.bench },
    transducer,
    instrument: { ...base.instrument, resolution: transducer.resolution, range: { lower: 0, upper: transducer.range }, ...parts.instrument },
    faults: parts.faults ?? base.faults,
  };
}

/** Vented with so many seconds of margin after the hold. */
export const afterHold = (margin: number): VentPlan => ({ when: 'after-hold', margin });
