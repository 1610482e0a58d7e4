import { z } from 'zod';
import { InputError, problemsOf } from './problems.js';
import { quantity, relativePressure, resolve } from './quantity.js';

const pressure = (meaning: string, example: string) =>
  quantity({ dimension: 'pressure', min: 0.001, max: 20_000, meaning, example });
const rate = (meaning: string, example: string) =>
  quantity({ dimension: 'pressureRate', min: 1e-6, max: 1e6, meaning, example });

/** The plan as people write it; unknown keys are refused. */
export const planSchema = z.strictObject({
  plan: z.string().trim().min(1, { error: 'the plan needs a name' }),
  testPressure: pressure('the pressure that the assembly must be held at', '550 bar'),
  reachTolerance: relativePressure({
    maxFraction: 0.2,
    maxPressure: 1000,
    meaning: 'how far below the test pressure still counts as reached',
    example: '1 %',
  }).default({ kind: 'fraction', value: 0.01 }),
  holdTime: quantity({ dimension: 'time', min: 0.5, max: 30 * 86_400, meaning: 'how long the settled pressure must be watched', example: '60 s' }),
  minimumPressure: pressure('the pressure must not stay below this during the hold', '530 bar').optional(),
  maximumDrop: relativePressure({
    maxFraction: 1,
    maxPressure: 20_000,
    meaning: 'the largest loss from the settled start of the hold',
    example: '3 %',
  }).optional(),
  ceilingPressure: pressure('no real pressure may exceed this, spike or not', '600 bar').optional(),
  riseRate: z
    .strictObject({
      minimum: rate('the rise must not be slower', '5 bar/s').optional(),
      maximum: rate('the rise must not be faster', '100 bar/s').optional(),
    })
    .optional(),
  leakLimit: rate('the largest steady loss', '1.5 bar/min').transform((barPerSecond) => barPerSecond * 60).optional(),
  cycles: z
    .number({ error: 'should be a whole number of pressurisations, for example 3' })
    .int({ error: 'should be a whole number of pressurisations, for example 3' })
    .min(1, { error: 'should be 1 or more' })
    .max(100_000, { error: 'should be 100000 or less' })
    .default(1),
  allowTopUp: z.boolean({ error: 'should be true or false' }).default(false),
  decisionRule: z.enum(['simple', 'guarded']).default('simple'),
  allowOverdueCalibration: z.boolean({ error: 'should be true or false' }).default(false),
});

/**
 * What a run must show. Pressures in bar, times in s, `leakLimit` in bar/min, `riseRate` in bar/s;
 * `reachTolerance` and `maximumDrop` as a fraction or a pressure.
 */
export type Plan = z.output<typeof planSchema>;

/** Every key that a plan may have. */
export const planKeys: readonly string[] = [...Object.keys(planSchema.shape), 'minimum', 'maximum'];

/** Pressure from which the test pressure counts as reached, bar. */
export const reachLevel = (plan: Plan): number => plan.testPressure - resolve(plan.reachTolerance, plan.testPressure);

/**
 * Pressure that the settled assembly must still show for the hold to begin, bar: the plan's minimum, or the test
 * pressure less its tolerance where the plan names none.
 */
export const holdFloor = (plan: Plan): number => plan.minimumPressure ?? reachLevel(plan);

/**
 * The lower limit during the hold, bar. A plan that limits neither minimum nor drop nor leak would let anything pass,
 * so the test pressure less its tolerance stands in.
 */
export const minimumDuringHold = (plan: Plan): number | undefined =>
  plan.minimumPressure ?? (plan.maximumDrop === undefined && plan.leakLimit === undefined ? reachLevel(plan) : undefined);

/**
 * Checks what was read from a plan file.
 * @throws InputError that names each wrong field, its value and what would be right.
 */
export function parsePlan(input: unknown, source: string): Plan {
  const found = planSchema.safeParse(input);
  if (!found.success) throw new InputError(source, problemsOf(found.error, input, planKeys));
  const problems = contradictions(found.data);
  if (problems.length > 0) throw new InputError(source, problems);
  return found.data;
}

const bar = (value: number): string => `${Number(value.toPrecision(6))} bar`;

/** Values that are each possible but cannot all be meant. */
function contradictions(plan: Plan): { place: string; text: string }[] {
  const { testPressure, ceilingPressure, minimumPressure, riseRate } = plan;
  const problems: { place: string; text: string }[] = [];
  if (ceilingPressure !== undefined && ceilingPressure <= testPressure) {
    problems.push({
      place: 'ceilingPressure',
      text: `${bar(ceilingPressure)} is not above the test pressure of ${bar(testPressure)}; the ceiling must leave room over it`,
    });
  }
  if (minimumPressure !== undefined && minimumPressure > testPressure) {
    problems.push({
      place: 'minimumPressure',
      text: `${bar(minimumPressure)} is above the test pressure of ${bar(testPressure)}; it should be at or below it`,
    });
  }
  if (riseRate?.minimum !== undefined && riseRate.maximum !== undefined && riseRate.minimum > riseRate.maximum) {
    problems.push({ place: 'riseRate', text: 'the minimum is above the maximum; exchange them' });
  }
  if (reachLevel(plan) <= 0) {
    problems.push({ place: 'reachTolerance', text: 'leaves nothing to reach; it should be far below the test pressure, for example 1 %' });
  }
  return problems;
}
