/** A sign that the values are no longer scattered by chance alone. */
export interface RuleBroken {
  /** Index of the value at which it showed. */
  readonly at: number;
  readonly rule: RunRule;
  readonly side: 'above' | 'below';
}

export type RunRule = 'beyond 3' | '2 of 3 beyond 2' | '4 of 5 beyond 1' | '8 on one side';

/** What each rule says, for people. */
export const runRuleWords: Readonly<Record<RunRule, string>> = {
  'beyond 3': 'one value more than 3 standard deviations from the centre',
  '2 of 3 beyond 2': 'two of three in a row more than 2 standard deviations away, on the same side',
  '4 of 5 beyond 1': 'four of five in a row more than 1 standard deviation away, on the same side',
  '8 on one side': 'eight in a row on the same side of the centre',
};

interface RuleShape {
  readonly rule: RunRule;
  readonly beyond: number;
  readonly among: number;
  readonly least: number;
}

const shapes: readonly RuleShape[] = [
  { rule: 'beyond 3', beyond: 3, among: 1, least: 1 },
  { rule: '2 of 3 beyond 2', beyond: 2, among: 3, least: 2 },
  { rule: '4 of 5 beyond 1', beyond: 1, among: 5, least: 4 },
  { rule: '8 on one side', beyond: 0, among: 8, least: 8 },
];

/**
 * The four zone rules of the Western Electric handbook of 1956, as NIST/SEMATECH e-Handbook 6.3.2 gives them. Chance alone
 * breaks one of them about once in 92 values. Each is told where it first holds, at a value that itself is beyond.
 * @param sigma above 0; with 0 nothing can be told
 */
export function brokenRunRules(values: readonly number[], centre: number, sigma: number): RuleBroken[] {
  if (!(sigma > 0)) return [];
  const found: RuleBroken[] = [];
  const distances = values.map((value) => (value - centre) / sigma);
  for (const side of ['above', 'below'] as const) {
    const sign = side === 'above' ? 1 : -1;
    for (const { rule, beyond, among, least } of shapes) {
      const out = distances.map((distance) => sign * distance > beyond);
      out.forEach((isOut, at) => {
        if (isOut && at + 1 >= least && out.slice(Math.max(at + 1 - among, 0), at + 1).filter(Boolean).length >= least) found.push({ at, rule, side });
      });
    }
  }
  return found.sort((a, b) => a.at - b.at);
}
