import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError, inputError } from '../core/problems.js';
import { NotThere } from '../library/not-there.js';
import { SaveConflict } from '../library/save-conflict.js';
import type { Author } from '../records/add-to-run.js';
import { authorOf } from './author.js';
import { placeOf, versionInfo } from './setting-answers.js';
import type { SetupDesk } from './setup-desk.js';

const address = z.object({ bench: z.string().min(1).max(200) });

/** Answers from the desk of the bench that a request names; what a person must correct is told with the field it is about. */
export const setupAnswering = (desks: readonly SetupDesk[]) =>
  async (request: FastifyRequest, reply: FastifyReply, work: (desk: SetupDesk) => unknown): Promise<unknown> => {
    const { bench } = address.parse(request.params);
    const desk = desks.find((one) => one.bench === bench);
    if (desk === undefined) return reply.code(404).send({ error: 'no bench of that name is running here' });
    try {
      return await work(desk);
    } catch (error) {
      if (error instanceof SaveConflict) {
        return reply.code(409).send({ error: error.message, theirs: error.theirs, yours: error.yours, newest: error.newest && versionInfo(error.newest) });
      }
      if (!(error instanceof InputError)) throw error;
      const problems = error.problems.map(({ place, text }) => ({ place: placeOf(place), text }));
      return reply.code(error instanceof NotThere ? 404 : 400).send({ error: error.message, problems });
    }
  };

/** Who saves something, and why. @throws InputError without a reason */
export function reasonedBy(request: FastifyRequest): Required<Author> {
  const { who, why = '' } = authorOf(request);
  if (why.trim() === '') throw inputError('', 'why', 'is empty; a new version needs its reason');
  return { who, why };
}
