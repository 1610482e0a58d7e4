import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError } from '../core/problems.js';
import type { OperatorDesk } from './operator-desk.js';

const address = z.object({ bench: z.string().min(1).max(200) });
/** The run that an address means. */
export const runAddress = z.object({ run: z.coerce.number().int().positive().max(Number.MAX_SAFE_INTEGER) });

/** The desk of the bench that a request names, or `undefined`. */
export function deskOf(desks: readonly OperatorDesk[], request: FastifyRequest): OperatorDesk | undefined {
  const { bench } = address.parse(request.params);
  return desks.find((desk) => desk.bench === bench);
}

/** Number of the run that a request names, or `null` where it is none. */
export const runOf = (request: FastifyRequest): number | null => runAddress.safeParse(request.params).data?.run ?? null;

/**
 * What `work` gives, for the desk that the request names. Input that a person must correct is told with `status`; what
 * else goes wrong is the error handler's.
 */
export async function answerFrom(
  desks: readonly OperatorDesk[], request: FastifyRequest, reply: FastifyReply, work: (desk: OperatorDesk) => unknown, status = 400,
): Promise<unknown> {
  const desk = deskOf(desks, request);
  if (desk === undefined) return reply.code(404).send({ error: 'no bench of that name is running here' });
  try {
    return await work(desk);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return reply.code(status).send({ error: error.message, problems: error.problems });
  }
}
