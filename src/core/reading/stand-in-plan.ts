import { planSchema, type Plan } from '../plan.js';

/**
 * What a run without a plan is read with: each plateau above a third of the usual pressure (bar) counts as reached, and
 * a hold never ends. It serves to measure; it never judges.
 */
export function standInPlan(usualPressure: number): Plan {
  const plan = planSchema.parse({ plan: 'no plan', testPressure: `${Math.max(usualPressure, 0.01)} bar`, holdTime: '720 h' });
  return { ...plan, reachTolerance: { kind: 'fraction', value: 0.67 } };
}
