import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import type { Author } from '../records/add-to-run.js';
import { textLine } from '../records/text-line.js';

const named = z.object({ who: textLine(200).min(1, { error: 'is empty; say who is doing this' }), why: textLine(500).optional() });

/** Who makes a change, and why, out of the body of a request. @throws InputError where nobody is named */
export function authorOf(request: FastifyRequest): Author {
  const body: unknown = request.body ?? {};
  const found = named.safeParse(body);
  if (!found.success) throw new InputError('', problemsOf(found.error, body, ['who', 'why']));
  const { who, why } = found.data;
  return why === undefined ? { who } : { who, why };
}
