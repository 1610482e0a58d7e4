import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import type { Author } from '../records/add-to-run.js';
import { textLine } from '../records/text-line.js';

/** Who makes a change, and why, beside whatever else a request says. */
export const authorFields = z.object({ who: textLine(200).min(1, { error: 'is empty; say who is doing this' }), why: textLine(500).optional() });

/** Whoever makes a request, where it carries no text in which a name could be typed. */
export const nameOf = (request: FastifyRequest): string => request.person?.name ?? 'somebody at the bench';

/**
 * Who makes a change, and why. Whoever is signed in is the author, whatever the body says; at a bench without people it is
 * the name that was typed.
 * @throws InputError where nobody is named
 */
export function authorOf(request: FastifyRequest): Author {
  const sent: unknown = request.body ?? {};
  const name = request.person?.name ?? null;
  const body = name === null ? sent : { ...(sent as object), who: name };
  const found = authorFields.safeParse(body);
  if (!found.success) throw new InputError('', problemsOf(found.error, body, ['who', 'why']));
  const { who, why } = found.data;
  return why === undefined ? { who } : { who, why };
}
