import { minimumDuringHold, reachLevel, type Plan } from '../core/plan.js';
import type { Relative } from '../core/quantity.js';
import { figure, row, type Row } from './content-rows.js';

/** A number of a plan without the noise of binary fractions: `1.5`, not `1.4999999999999998`. */
const tidy = (value: number): number => Number(value.toPrecision(9));
const bar = (value: number | undefined): string | null => figure(value === undefined ? undefined : tidy(value), 'bar');
const relative = ({ kind, value }: Relative): string => (kind === 'fraction' ? `${tidy(100 * value)} %` : `${tidy(value)} bar`);

/** What the plan allows to be lost, in words; a plan always limits it in one way or another. */
export function allowedLoss(plan: Plan): string {
  const minimum = minimumDuringHold(plan);
  return [
    ...(plan.maximumDrop === undefined ? [] : [`a drop of at most ${relative(plan.maximumDrop)}`]),
    ...(plan.leakLimit === undefined ? [] : [`a steady loss of at most ${tidy(plan.leakLimit)} bar/min`]),
    ...(minimum === undefined ? [] : [`not below ${tidy(minimum)} bar`]),
  ].join(', ');
}

const decisions = {
  simple: 'simple: a value up to the limit, as shown, is within it',
  guarded: 'guarded: limits are kept by more than the expanded uncertainty (k = 2)',
} as const;

/** The plan with its limits, as documents list them. */
export function planRows(plan: Plan): Row[] {
  const { riseRate } = plan;
  const rates = [
    ...(riseRate?.minimum === undefined ? [] : [`at least ${tidy(riseRate.minimum)} bar/s`]),
    ...(riseRate?.maximum === undefined ? [] : [`at most ${tidy(riseRate.maximum)} bar/s`]),
  ].join(', ');
  const rows: readonly (Row | null)[] = [
    row('Plan', plan.plan),
    row('Required pressure', `${tidy(plan.testPressure)} bar (reached from ${tidy(reachLevel(plan))} bar)`),
    row('Hold time', figure(tidy(plan.holdTime), 's')),
    row('Allowed loss', allowedLoss(plan)),
    plan.ceilingPressure === undefined ? null : row('Ceiling', bar(plan.ceilingPressure)),
    rates === '' ? null : row('Rise', rates),
    plan.cycles === 1 ? null : row('Cycles', plan.cycles),
    row('Top-up in the hold', plan.allowTopUp ? 'allowed, and taken off' : 'not allowed'),
    row('Decision rule', decisions[plan.decisionRule]),
  ];
  return rows.filter((found): found is Row => found !== null);
}
