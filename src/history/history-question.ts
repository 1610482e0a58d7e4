import { z } from 'zod';
import { auditKinds } from '../server/audit-answers.js';

const words = (what: string) => z.string().trim().max(200, { error: `should be ${what} of at most 200 characters` }).optional();
const run = z.coerce.number({ error: 'should be the number of a run' }).int({ error: 'should be the number of a run' }).positive({ error: 'should be the number of a run' }).max(Number.MAX_SAFE_INTEGER);
const seconds = z.coerce.number({ error: 'should be a time in s' });
const count = (most: number) => z.coerce.number({ error: `should be a whole number from 1 to ${most}` }).int({ error: `should be a whole number from 1 to ${most}` }).min(1, { error: `should be 1 or more` }).max(most, { error: `should be ${most} or less` });

/** A day or moment as ISO 8601 writes it, or ms since 1970; to ms since 1970. A day means its first or last moment where the server stands. */
const moment = (end: boolean) =>
  z
    .string()
    .trim()
    .max(40)
    .transform((text, context) => {
      const day = /^\d{4}-\d{2}-\d{2}$/.test(text);
      const wall = /^-?\d{10,16}$/.test(text) ? Number(text) : new Date(day ? `${text}T${end ? '23:59:59.999' : '00:00:00'}` : text).getTime();
      if (Number.isFinite(wall)) return wall;
      context.addIssue({ code: 'custom', message: 'should be a day such as 2027-03-01, or a moment as ISO 8601 writes it' });
      return z.NEVER;
    })
    .optional();

const choice = {
  order: words('an order number'),
  serial: words('a serial number'),
  hose: words('a hose'),
  plan: words('the name of a plan'),
  text: words('words'),
  /** What the run came to with everything said since; `open` is still going on. */
  result: z.enum(['pass', 'fail', 'inconclusive', 'open'], { error: "should be 'pass', 'fail', 'inconclusive' or 'open'" }).optional(),
  from: moment(false),
  to: moment(true),
} as const;

/** Which entries about changes are wanted. */
export const auditChoice = {
  subject: words('a subject'),
  who: words('a name'),
  kind: z.enum(auditKinds, { error: `should be one of ${auditKinds.join(', ')}` }).optional(),
  text: words('words'),
  from: moment(false),
  to: moment(true),
} as const;

const span = z.object({ from: moment(false), to: moment(true) }).shape;

/** What can be asked about the runs on record. */
export const historyQuestion = z.discriminatedUnion('ask', [
  z.strictObject({ ask: z.literal('runs'), ...choice, limit: count(200).default(50), before: run.optional() }),
  z.strictObject({ ask: z.literal('table'), ...choice }),
  z.strictObject({ ask: z.literal('run'), run }),
  z.strictObject({ ask: z.literal('trace'), run, from: seconds.optional(), to: seconds.optional(), columns: count(4000).default(1200) }),
  z.strictObject({ ask: z.literal('groups'), ...span }),
  z.strictObject({
    ask: z.literal('statistics'), ...span,
    /** Exactly as written; empty for runs without. */
    plan: z.string().max(200), hose: z.string().max(200),
    measure: z.enum(['leak', 'drop'], { error: "should be 'leak' or 'drop'" }).default('leak'),
    /** How many of the first passed tests give the limits of the chart. */
    baseline: z.coerce.number({ error: 'should be 8 to 500' }).int({ error: 'should be 8 to 500' }).min(8, { error: 'should be 8 or more' }).max(500, { error: 'should be 500 or less' }).default(25),
    /** Only tests of so many assemblies at once. */
    together: count(200).optional(),
    form: z.enum(['json', 'csv']).default('json'),
  }),
  z.strictObject({ ask: z.literal('audit-table'), ...auditChoice }),
  z.strictObject({ ask: z.literal('audit-chain') }),
]);

export type HistoryQuestion = z.output<typeof historyQuestion>;
export type RunsChoice = Omit<Extract<HistoryQuestion, { ask: 'table' }>, 'ask'>;
export type StatisticsChoice = Omit<Extract<HistoryQuestion, { ask: 'statistics' }>, 'ask' | 'form'>;

/** An answer, ready to be sent. */
export interface HistoryAnswer {
  /** Media type. */
  readonly type: string;
  readonly body: string;
  /** Of the file, where it is to be saved. */
  readonly name?: string;
}

/** Answers questions about the runs of one store. */
export interface History {
  /** @throws InputError for a run that is not there */
  ask(bench: string, question: HistoryQuestion): Promise<HistoryAnswer>;
  close(): Promise<void>;
}
