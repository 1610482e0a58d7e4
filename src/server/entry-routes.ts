import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { InputError, inputError, problemsOf } from '../core/problems.js';
import { jobKeys, parseJob } from '../records/job.js';
import type { Entry } from '../records/store.js';
import { textLine } from '../records/text-line.js';
import { visualFindingSchema } from '../records/visual-finding.js';
import { authorOf } from './author.js';
import { answerFrom, runOf } from './desk-answers.js';
import type { OperatorDesk } from './operator-desk.js';

/** A remark on a run. */
export const noteEntry = z.strictObject({ kind: z.literal('note'), text: textLine(1000).min(1, { error: 'is empty' }) });
const kind = z.object({ entry: z.object({ kind: z.enum(['job', 'visual-finding', 'note']) }) });

/** What an operator says about a run that is over. Entries are only ever added. */
export function entryRoutes(app: FastifyInstance, desks: readonly OperatorDesk[]): void {
  app.get('/api/benches/:bench/runs/:run', { config: { needs: 'viewer' } }, (request, reply) => answerFrom(desks, request, reply, (desk) => desk.about(numberOf(runOf(request))), 404));

  app.post('/api/benches/:bench/runs/:run/entries', { config: { needs: 'operator' } }, (request, reply) =>
    answerFrom(desks, request, reply, (desk) => {
      const author = authorOf(request);
      return desk.say(numberOf(runOf(request)), entryOf(request.body), author);
    }),
  );
}

function numberOf(run: number | null): number {
  if (run === null) throw inputError('run', '', 'should be the number of a run');
  return run;
}

/** @throws InputError */
function entryOf(body: unknown): Entry {
  const known = kind.safeParse(body);
  if (!known.success) throw new InputError('entry', problemsOf(known.error, body, ['entry', 'kind']));
  const { entry } = body as { readonly entry: object };
  const wanted = known.data.entry.kind;
  if (wanted === 'job') {
    const job: Record<string, unknown> = { ...entry };
    delete job['kind'];
    return { kind: 'job', ...parseJob(job) };
  }
  const found = wanted === 'note' ? noteEntry.safeParse(entry) : visualFindingSchema.safeParse(entry);
  if (!found.success) throw new InputError(wanted, problemsOf(found.error, entry, [...jobKeys, 'finding', 'at', 'leaks', 'text']));
  return found.data;
}
