import { z } from 'zod';
import { concerns, type RunChange, type Told } from '../../tuning/run-change.js';
import type { SweepReport } from '../../tuning/sweep.js';
import type { Tally } from '../../tuning/tally.js';
import type { Compared } from '../../tuning/tasks.js';
import type { FlipSummary } from '../../tuning/what-would-flip.js';
import { number, numberOrNull, rule, ruleOutcome, text, textOrNull, verdict, outcome } from './outcome-shapes.js';
import { runLabels } from './run-shapes.js';
import { shapeOf } from './shape-of.js';

const told = shapeOf<Told>()(
  z.object({
    verdict, runs: number, because: z.object({ rule, outcome: ruleOutcome, sentence: text }).nullable(), settled: numberOrNull, holdEnd: numberOrNull, peak: numberOrNull, drop: numberOrNull,
    leak: z.object({ rate: number, standardError: number }).nullable(), spikes: number, glitches: number,
  }),
);

const pair = z.object({ before: numberOrNull, after: numberOrNull });

export const change = shapeOf<RunChange>()(
  z.object({
    concern: z.enum(concerns).describe('the gravest first'), before: told, after: told,
    findings: z.array(z.object({ rule, cycle: number, before: ruleOutcome.nullable(), after: ruleOutcome.nullable(), measured: pair, limit: pair, unit: text, sentence: text })),
  }),
);

export const compared = shapeOf<Compared>()(
  z.object({
    key: z.union([text, number]), name: text, bench: textOrNull, wall: numberOrNull, hose: textOrNull, planName: textOrNull, labels: runLabels, change,
    byProgram: z.boolean().describe('another version of the program judged it, and it comes out otherwise by that alone'),
    otherPlan: textOrNull.describe('name of the plan in whose place the candidate was tried'),
    outcomes: z.object({ before: z.array(outcome), after: z.array(outcome) }).optional(),
  }),
);

export const summary = shapeOf<FlipSummary>()(
  z.object({
    judged: number, flips: number, byConcern: z.object(Object.fromEntries(concerns.map((concern) => [concern, number])) as Record<(typeof concerns)[number], z.ZodNumber>),
    verdicts: z.record(text, number).describe("'pass to fail' and so on, with the number of runs"), againstLabels: number, byProgram: number, problems: z.array(text), unread: number, otherPlans: z.array(text),
  }),
);

const share = z.object({ count: number, of: number, share: numberOrNull, lower: number, upper: number }).describe('with its 95 % interval (Clopper and Pearson)');
const tally = { falsePass: share, falseFail: share, undecided: share, spikesMissed: share, falseSpikes: share, cost: number };
shapeOf<Tally>()(z.object(tally));

export const sweep = shapeOf<Omit<SweepReport, 'rows'>>()(
  z.object({
    keys: z.array(text), present: z.object(tally).describe('the thresholds as they are'), cheapest: numberOrNull.describe('index of the row that costs least'),
    labelled: z.object({ leaking: number, sound: number, untold: number.describe('runs of which the recording cannot tell'), realSpikes: number, falseSpikes: number, unlabelled: number, groups: number }),
    costs: z.object({ falsePass: number, falseFail: number, undecided: number, spike: number }), notes: z.array(text), problems: z.array(text),
  }),
).extend({ rows: z.array(z.object({ values: z.record(text, text).describe('values by threshold, as written'), ...tally })) });

const begin = z.object({ line: z.literal('begin'), total: number });
const failed = z.object({ line: z.literal('failed'), error: text });

/** Lines of a comparison. */
export const comparisonLine = z.discriminatedUnion('line', [
  begin, z.object({ line: z.literal('run'), ...compared.shape }), z.object({ line: z.literal('progress'), done: number, total: number, flips: number }), z.object({ line: z.literal('end'), summary }), failed,
]);

/** Lines of a sweep. */
export const sweepLine = z.discriminatedUnion('line', [z.object({ line: z.literal('progress'), done: number, total: number }), z.object({ line: z.literal('end'), sweep }), failed]);
