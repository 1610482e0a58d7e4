import { z } from 'zod';
import { eventKinds, rules, type Cycle, type Finding, type FoundEvent, type Leak, type Outcome } from '../../core/outcome.js';
import type { Plan } from '../../core/plan.js';
import type { PlanLines } from '../../sinks/live-protocol.js';
import { shapeOf } from './shape-of.js';

export const number = z.number();
export const text = z.string();
export const numberOrNull = number.nullable();
export const textOrNull = text.nullable();
export const wall = number.describe('ms since 1970-01-01T00:00Z');
export const verdict = z.enum(['pass', 'fail', 'inconclusive']);
export const ruleOutcome = z.enum(['met', 'broken', 'undecided']);
export const rule = z.enum(rules);

export const foundEvent = shapeOf<FoundEvent>()(
  z.object({
    kind: z.enum(eventKinds),
    at: number.describe("s on the trace's own clock; of a spike or glitch its extreme"),
    height: number.describe('bar: rise of a stroke or top-up, height of a spike, depth of a breach').optional(),
    width: number.describe('s').optional(),
    pressure: number.describe('bar, at that moment; of a burst the highest real pressure before it').optional(),
    unclear: z.boolean().describe('true where the sample rate is too low to tell electrical from hydraulic').optional(),
    note: text.optional(),
  }),
);

const leak = shapeOf<Leak>()(
  z.object({
    rate: number.describe('bar/min, positive when pressure is lost'),
    standardError: number.describe('bar/min; rate +- 1.96 of it holds the leak with 95 %'),
    lowest: number.describe('bar/min; with 95 % the leak lies between lowest and highest, which need not be even around the rate: a slow settling may be part of it').optional(),
    highest: number.describe('bar/min').optional(),
    settling: number.describe('bar, amplitude of the settling'),
    timeConstant: number.describe('s'),
    startedAt: number.describe('s; the moment a leak began in mid-hold').optional(),
    volumeRate: number.describe('ml/min, where the compliance is known').optional(),
  }),
);

export const cycle = shapeOf<Cycle>()(
  z.object({
    rising: numberOrNull, reached: numberOrNull, settled: numberOrNull, holdEnd: numberOrNull, vented: numberOrNull,
    peak: numberOrNull, holdStartPressure: numberOrNull, holdMinimum: numberOrNull, drop: numberOrNull, dropPercent: numberOrNull,
    strokes: number, topUps: number, leak: leak.nullable(), verdict,
  }),
);

export const finding = shapeOf<Finding>()(
  z.object({
    rule, outcome: ruleOutcome, measured: numberOrNull, limit: numberOrNull, unit: text,
    uncertainty: numberOrNull.describe('expanded, 95 %; null where it plays no part'),
    at: numberOrNull.describe("s on the trace's own clock"), sentence: text,
    cycle: number.describe('from 1; left out in a run of one cycle').optional(),
  }),
);

/** As the public format of `judge --json` has it. */
export const outcome = shapeOf<Outcome>()(
  z.object({
    verdict, findings: z.array(finding), cycles: z.array(cycle).describe("times in s on the trace's own clock, pressures in bar; what did not come is null"), events: z.array(foundEvent),
    notes: z.array(text).describe('what the outcome rests on and what it cannot say'),
    signal: z.object({ samples: number, interval: numberOrNull, resolution: numberOrNull, noise: numberOrNull, missing: number, duplicates: number, backward: number }).describe('what was read: interval in s, resolution and noise in bar, counts'),
    plan: textOrNull, thresholds: text,
  }),
);

const relative = z.discriminatedUnion('kind', [
  z.object({ kind: z.literal('fraction'), value: number.describe('of the test pressure or of the pressure at the start of hold') }),
  z.object({ kind: z.literal('pressure'), value: number.describe('bar') }),
]);

/** A plan with its numbers worked out. */
export const plan = shapeOf<Plan>()(
  z.object({
    plan: text, testPressure: number.describe('bar'), reachTolerance: relative, holdTime: number.describe('s'),
    minimumPressure: number.describe('bar').optional(), maximumDrop: relative.optional(), ceilingPressure: number.describe('bar').optional(),
    riseRate: z.object({ minimum: number.describe('bar/s').optional(), maximum: number.describe('bar/s').optional() }).optional(),
    leakLimit: number.describe('bar/min').optional(), cycles: number, allowTopUp: z.boolean(), decisionRule: z.enum(['simple', 'guarded']), allowOverdueCalibration: z.boolean(),
  }),
);

export const planLines = shapeOf<PlanLines>()(
  z.object({
    name: text, testPressure: number, reach: number, holdFloor: number, ceiling: numberOrNull, minimum: numberOrNull, holdTime: number, cycles: number,
  }).describe('the plan as it is drawn; pressures in bar, times in s'),
);
