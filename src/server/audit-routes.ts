import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { InputError } from '../core/problems.js';
import type { AuditDesk } from './audit-desk.js';

const address = z.object({ bench: z.string().min(1).max(200) });
const wanted = z.object({
  limit: z.coerce.number().int().min(1).max(500).default(100),
  before: z.coerce.number().int().positive().optional(),
  subject: z.string().min(1).max(120).optional(),
});

/** Who changed what at the bench, the newest first; page with `before`, the smallest number seen. */
export function auditRoutes(app: FastifyInstance, desks: readonly AuditDesk[]): void {
  app.get('/api/benches/:bench/audit', { config: { needs: 'engineer' } }, (request, reply) => {
    const query = wanted.safeParse(request.query);
    if (!query.success) return reply.code(400).send({ error: 'limit should be a whole number from 1 to 500, before the number of an entry' });
    const { bench } = address.parse(request.params);
    const desk = desks.find((one) => one.bench === bench);
    if (desk === undefined) return reply.code(404).send({ error: 'no bench of that name is running here' });
    const { limit, before, subject } = query.data;
    try {
      const entries = desk.entries({ limit, ...(before !== undefined && { before }), ...(subject !== undefined && { subject }) });
      return { entries, before: entries.length === limit ? (entries.at(-1)?.number ?? null) : null };
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      return reply.code(503).send({ error: error.message });
    }
  });
}
