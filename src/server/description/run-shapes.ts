import { z } from 'zod';
import { jobSchema } from '../../records/job.js';
import { knownTruths } from '../../records/run-labels.js';
import type { LabelAnswer } from '../label-routes.js';
import type { JobState, RunAbout } from '../operator-desk.js';
import type { TuningRun } from '../tuning-routes.js';
import { number, text, textOrNull, verdict, wall } from './outcome-shapes.js';
import { shapeOf } from './shape-of.js';

export const job = jobSchema;

export const jobState = shapeOf<JobState>()(
  z.object({
    waiting: z.object({ job, who: text }).nullable().describe('for the next run'),
    present: z.object({ run: number, job: job.nullable() }).nullable().describe('the run that is going on'),
    last: z.object({ run: number, job }).nullable().describe('the newest run that has a job'),
  }),
);

export const runAbout = shapeOf<RunAbout>()(
  z.object({
    run: number, verdict: verdict.describe('what the pressure showed'), result: verdict.describe('with what a person saw: the worst of the assemblies'), job: job.nullable(),
    assemblies: z.array(z.object({ serial: textOrNull, result: z.enum(['pass', 'fail', 'inconclusive', 'retest alone']), reason: textOrNull, leak: textOrNull })),
    visual: textOrNull,
    said: z.array(z.object({ kind: z.enum(['job', 'visual-finding', 'judged-again', 'label', 'certificate', 'note', 'trace-removed']), who: text, why: textOrNull, wall, words: text })),
    judgedBy: z.object({ plan: textOrNull, thresholds: textOrNull }),
    document: z.object({ kind: z.enum(['certificate', 'provisional', 'report']), sentence: text, missing: z.array(text) }),
  }),
);

export const runLabels = z.object({
  truth: z.enum(knownTruths).nullable(),
  spikes: z.array(z.object({ at: number.describe("s on the trace's own clock"), real: z.boolean() })),
  complete: z.literal(true).describe('the spikes above are all there are').optional(),
});

export const labels = shapeOf<LabelAnswer>()(z.object({ labels: runLabels, said: z.array(z.object({ label: text, at: z.number().nullable(), who: text, why: textOrNull, wall })) }));

export const tuningRun = shapeOf<TuningRun>()(
  z.object({
    run: number, wall, seconds: number, verdict, plan: textOrNull, hose: textOrNull, order: textOrNull, truth: z.enum(knownTruths).nullable(),
    readable: z.boolean().describe('false where its samples were given up to keep room'),
  }),
);
