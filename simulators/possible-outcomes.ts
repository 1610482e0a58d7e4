import type { Rule, RuleOutcome } from '../src/core/outcome.js';
import type { TrueFinding } from './truth.js';

/** What a rule may come to; the first is the truth. */
export type Possible = readonly [RuleOutcome, ...RuleOutcome[]];

/** A finding whose truth is the first of `possible`. */
export const finding = (rule: Rule, possible: Possible, cycle: number, measured: number | null = null, limit: number | null = null): TrueFinding => ({
  rule, outcome: possible[0], possible: [...new Set(possible)], cycle, measured, limit,
});

/** Upper limit with a measurement reach: the truth first, then what else could be found. */
export function against(value: number, limit: number, reach: number, over: RuleOutcome, under: RuleOutcome): Possible {
  const truth = value > limit ? over : under;
  return Math.abs(value - limit) > reach ? [truth] : [truth, truth === over ? under : over];
}

/** Several answers to the same question: the first stays the truth, all others are possible. */
export const joined = (answers: readonly [Possible, ...Possible[]]): Possible => [answers[0][0], ...answers.flat()];

/** Two conditions that must both be met. */
export function needed(one: Possible, other: Possible): Possible {
  if (one.every((o) => o === 'undecided') || other.every((o) => o === 'undecided')) return ['undecided'];
  return [one[0] === 'undecided' || other[0] === 'undecided' ? 'undecided' : 'met', ...one, ...other];
}
