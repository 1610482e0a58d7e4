import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { checkSerials, longestSerial, mostAssemblies, parseSerials } from './assembly-serials.js';
import { textLine } from './text-line.js';

const assembly = textLine(longestSerial).min(1, { error: 'should not be blank' });

/** What a job may say; each field is a line of text as the certificate prints it. */
const fields = {
  order: textLine(200).optional(),
  customer: textLine(200).optional(),
  hose: textLine(200).optional(),
  hoseLot: textLine(200).optional(),
  fitting: textLine(200).optional(),
  /** What the assemblies are filled with. */
  medium: textLine(200).optional(),
  /** As read from a thermometer, with its unit. */
  temperature: textLine(60).optional(),
  operator: textLine(200).optional(),
  /** Who answers for the test. */
  responsible: textLine(200).optional(),
  remark: textLine(1000).optional(),
  /** Number of the run that this one tests again. */
  retestOf: z.int({ error: 'should be the number of a run' }).positive({ error: 'should be the number of a run' }).optional(),
} as const;

/** A job as it is recorded. Every field may be missing; the certificate names what is. */
export const jobSchema = z.strictObject({
  ...fields,
  /** Serial numbers of the assemblies on the manifold. */
  assemblies: z.array(assembly).max(mostAssemblies, { error: `should be ${mostAssemblies} assemblies or fewer` }).optional(),
});

export type Job = z.output<typeof jobSchema>;

/** A job as people write it: the assemblies as a list, or as a text with ranges. */
export const writtenJob = z.strictObject({ ...fields, assemblies: z.union([jobSchema.shape.assemblies, z.string().max(20_000, { error: 'is too long' })]) });

export const jobKeys: readonly string[] = Object.keys(jobSchema.shape);

/**
 * Checks a job that somebody wrote. Blank fields are left out; `A17-001..006` becomes six serial numbers.
 * @throws InputError that names each wrong field, its value and what would be right
 */
export function parseJob(input: unknown, source = 'job'): Job {
  const found = writtenJob.safeParse(input);
  if (!found.success) throw new InputError(source, problemsOf(found.error, input, jobKeys));
  const { assemblies: written, ...rest } = found.data;
  const assemblies = typeof written === 'string' ? parseSerials(written, source) : (written ?? []);
  checkSerials(assemblies, source);
  const job = Object.fromEntries(Object.entries(rest).filter(([, value]) => value !== undefined && value !== ''));
  return { ...(job as Job), ...(assemblies.length > 0 && { assemblies }) };
}

/** The job that an entry states. */
export function jobIn(entry: Job & { readonly kind: 'job' }): Job {
  const job: Job & { kind?: 'job' } = { ...entry };
  delete job.kind;
  return job;
}

/** The job for the same work once more: everything but what belongs to one run. */
export function sameAgain(job: Job): Job {
  const again: { -readonly [Key in keyof Job]: Job[Key] } = { ...job };
  delete again.retestOf;
  delete again.remark;
  return again;
}

/** The job of a retest: one assembly alone on the bench. */
export const retestOf = (job: Job, run: number, assembly: string): Job => ({ ...sameAgain(job), assemblies: [assembly], retestOf: run });
