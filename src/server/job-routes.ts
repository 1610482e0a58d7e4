import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { longestSerial } from '../records/assembly-serials.js';
import { parseJob } from '../records/job.js';
import { textLine } from '../records/text-line.js';
import { authorOf, nameOf } from './author.js';
import { answerFrom } from './desk-answers.js';
import type { OperatorDesk } from './operator-desk.js';

/** The run that is tested again, and which assembly of it. */
export const retestBody = z.object({ run: z.int().positive(), assembly: textLine(longestSerial).min(1, { error: 'should be a serial number' }) });

const keying = { config: { needs: 'operator' } } as const;

/** The job of the present or next run: read, keyed in, the same again, a retest, put aside. */
export function jobRoutes(app: FastifyInstance, desks: readonly OperatorDesk[]): void {
  app.get('/api/benches/:bench/job', { config: { needs: 'viewer' } }, (request, reply) => answerFrom(desks, request, reply, (desk) => desk.jobs()));

  app.put('/api/benches/:bench/job', keying, (request, reply) =>
    answerFrom(desks, request, reply, (desk) => {
      const author = authorOf(request);
      const body = request.body as { readonly job?: unknown };
      return desk.keyIn(parseJob(body.job), author);
    }),
  );

  app.post('/api/benches/:bench/job/again', keying, (request, reply) => answerFrom(desks, request, reply, (desk) => desk.sameAgain(authorOf(request))));

  app.post('/api/benches/:bench/job/retest', keying, (request, reply) =>
    answerFrom(desks, request, reply, (desk) => {
      const author = authorOf(request);
      const found = retestBody.safeParse(request.body);
      if (!found.success) throw new InputError('retest', problemsOf(found.error, request.body, ['run', 'assembly']));
      return desk.retest(found.data.run, found.data.assembly, author);
    }),
  );

  app.delete('/api/benches/:bench/job', keying, (request, reply) => answerFrom(desks, request, reply, (desk) => desk.putAside(nameOf(request))));
}
