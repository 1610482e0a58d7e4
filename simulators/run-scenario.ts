import { stringify } from 'yaml';
import { holdFloor, parsePlan, reachLevel, type Plan } from '../src/core/plan.js';
import { parseThresholds, readingLimits, type ReadingLimits, type Thresholds } from '../src/core/thresholds.js';
import { inputError, nearest } from '../src/core/problems.js';
import { grid, runBench, type BenchRecord } from './bench.js';
import { randomFor } from './random.js';
import type { Scenario, ScenarioSetup } from './scenario.js';
import { scenarios } from './scenarios/index.js';
import { demoPlaylist, testPlaylist } from './scenarios/playlists.js';
import type { SettlingLimits } from './settling-watch.js';
import { record, type Recording, type TransducerSettings } from './transducer.js';
import { truthOf, type Truth } from './truth.js';

/** One run of a scenario: what was recorded, under which plan, and what is true about it. */
export interface ScenarioRun {
  readonly scenario: Scenario;
  readonly seed: number;
  readonly setup: ScenarioSetup;
  /** The plan as parsed, and as a YAML file. */
  readonly plan: Plan;
  readonly planText: string;
  readonly thresholds: Thresholds;
  /** A thresholds file, or `null` for the standard ones. */
  readonly thresholdsText: string | null;
  /** The recording; a core `Trace`. */
  readonly samples: Recording;
  readonly truth: Truth;
  /** Noise-free physics behind it. */
  readonly bench: BenchRecord;
}

/** Every scenario family, for truth tables and tests. */
export const listScenarios = (): readonly Scenario[] => scenarios;

/** The families and the single runs of the demo and test playlists: everything that has a name. */
export const listAll = (): readonly Scenario[] => [...scenarios, ...demoPlaylist, ...testPlaylist];

/** @throws InputError with the nearest name when there is no such scenario. */
export function scenarioNamed(name: string): Scenario {
  const found = listAll().find((s) => s.name === name);
  if (found !== undefined) return found;
  const hint = nearest(name, listAll().map((s) => s.name));
  throw inputError('scenario', '', `there is no scenario '${name}'${hint === undefined ? '; simulate --list names them' : `; did you mean '${hint}'?`}`);
}

/** Runs a scenario by name; the same name and seed give the same bytes. @throws InputError for an unknown name. */
export const runScenario = (name: string, seed: number): ScenarioRun => run(scenarioNamed(name), seed);

/** Runs a scenario. */
export function run(scenario: Scenario, seed: number): ScenarioRun {
  const random = randomFor(scenario.name, seed);
  const setup = scenario.build(random.fork('setup'));
  const plan = parsePlan(setup.plan, scenario.name);
  const thresholds = parseThresholds(setup.thresholds, scenario.name);
  const limits = readingLimits(thresholds, plan.testPressure);
  const bench = runBench({
    ...setup.bench,
    testPressure: plan.testPressure,
    holdTime: plan.holdTime,
    floor: holdFloor(plan),
    reach: reachLevel(plan),
    settling: settlingLimits(limits, setup.transducer),
  });
  const end = bench.pressure.length * grid;
  const from = setup.cut?.from === undefined ? 0 : bench.timeOf(setup.cut.from);
  const to = Math.min(end, setup.cut?.to === undefined ? end : bench.timeOf(setup.cut.to));
  const samples = record(bench.pressure, setup.transducer, setup.faults, (m) => bench.timeOf(m), random.fork('noise'), from, to);
  const evidence = { plan, limits, bench, recording: samples, transducer: setup.transducer, instrument: setup.instrument, from, to };
  return {
    scenario, seed, setup, plan, thresholds, samples, bench,
    planText: stringify(setup.plan),
    thresholdsText: setup.thresholds === undefined ? null : stringify(setup.thresholds),
    truth: truthOf(evidence, scenario.name, seed),
  };
}

/**
 * The definition of settled in numbers, read exactly, leniently and strictly in the light of the noise: a window of n
 * readings has a slope error of sigma sqrt(12/n)/window, slow noise adds about 1.2 wander/window.
 */
function settlingLimits(limits: ReadingLimits, transducer: TransducerSettings): { true: SettlingLimits; early: SettlingLimits; late: SettlingLimits } {
  const { quietTime, settleWindow: window, settleSlope: slope, settleTimeout } = limits;
  const white = (Math.hypot(transducer.noise, transducer.resolution / Math.sqrt(12)) * Math.sqrt(12 / (window * transducer.rate))) / window;
  const error = Math.hypot(white, (1.2 * transducer.wander) / window);
  const of = (scale: number, errors: number, steady: number, timeout: number): SettlingLimits => ({
    quietTime, window, timeout, slope: Math.max(0.15 * slope, scale * slope + errors * error), steady: steady * Math.SQRT2 * error,
  });
  return { true: of(1, 0, 2, settleTimeout), early: of(1.15, 2.5, 6, settleTimeout), late: of(0.85, -2.5, 0.7, settleTimeout + quietTime) };
}
