import { z } from 'zod';
import type { FoundRuns, Groups, RunDetail, Statistics, TraceStretch } from '../history-answers.js';
import { number, numberOrNull, outcome, plan, planLines, text, textOrNull, verdict, wall } from './outcome-shapes.js';
import { job } from './run-shapes.js';
import { shapeOf } from './shape-of.js';

const state = z.enum(['open', 'finished', 'interrupted']);

export const foundRuns = shapeOf<FoundRuns>()(
  z.object({
    runs: z.array(z.object({
      run: number, state, wall, length_s: numberOrNull, result: verdict.nullable().describe('with everything said since; null while it is going on'), sealed: verdict.nullable().describe('as it was sealed, where that differs'),
      plan: textOrNull, order: textOrNull, customer: textOrNull, hose: textOrNull, operator: textOrNull, assemblies: z.array(text), retestOf: numberOrNull,
      peak_bar: numberOrNull, drop_bar: numberOrNull, leak_bar_per_min: numberOrNull, reason: textOrNull,
    })),
    next: numberOrNull.describe('ask again with before=NEXT; null when all were looked at'), looked: number, onRecord: number,
  }),
);

export const runDetail = shapeOf<RunDetail>()(
  z.object({
    run: number, bench: text, state, from: number, to: number, readFrom: number, readTo: number, wall, result: verdict, sealed: verdict, outcome, reasons: z.array(text),
    plan: plan.nullable(), lines: planLines.nullable(),
    versions: z.object({ plan: textOrNull, thresholds: text, software: text, instrument: textOrNull, seal: textOrNull }).describe('content hashes; judged-by tells which version one is'),
    gap: number.describe('s between samples above which the line is broken'), job: job.nullable(), traceRemoved: z.boolean(), others: z.array(z.object({ run: number, serial: text })),
  }),
);

export const traceStretch = shapeOf<TraceStretch>()(
  z.object({ from_s: number, to_s: number, column_s: number.describe('width of a column; 0 where every sample is there'), time_s: z.array(number), pressure_bar: z.array(numberOrNull) }),
);

const rate = z.object({ share: number, lower: number, upper: number }).nullable().describe('with its 95 % interval (Wilson); null where there is nothing to divide by');
const counts = { pass: number, fail: number, inconclusive: number, rate };

export const groups = shapeOf<Groups>()(
  z.object({
    groups: z.array(z.object({ plan: text, hose: text, first: z.object(counts), retests: z.object(counts), newest: number })), looked: number, leftOut: number,
  }),
);

const distribution = z.object({
  count: number, mean: number, deviation: numberOrNull, lowest: number, quarter: number, median: number, threeQuarters: number, highest: number,
  columns: z.array(z.object({ from: number, to: number, count: number })),
});

const chart = z.object({
  at: z.array(number).describe('indexes into points'), baseline: number,
  limits: z.object({ centre: number, sigma: number, upper: number, lower: number, meanRange: number, upperRange: number }),
  ranges: z.array(number), ewma: z.object({ averages: z.array(number), upper: number, lower: number, weight: number }),
  broken: z.array(z.object({ at: number, rule: z.enum(['beyond 3', '2 of 3 beyond 2', '4 of 5 beyond 1', '8 on one side']), side: z.enum(['above', 'below']) })),
});

export const statistics = shapeOf<Statistics>()(
  z.object({
    plan: text, hose: text, measure: z.enum(['leak', 'drop']), unit: z.enum(['bar', 'bar/min']), first: z.object(counts), retests: z.object(counts),
    assemblies: z.object({ ...counts, retestAlone: number }),
    points: z.array(z.object({ run: number, wall, value: numberOrNull, result: verdict, assemblies: number, retest: z.boolean(), planVersion: textOrNull })),
    distribution: distribution.nullable(), chart: chart.nullable(), limit: numberOrNull, sentences: z.array(text), rules: z.record(text, text), leftOut: number,
  }),
);
