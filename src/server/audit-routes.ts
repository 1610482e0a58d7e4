import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { auditChoice } from '../history/history-question.js';
import type { AuditDesk } from './audit-desk.js';
import type { BenchHistory } from './history-routes.js';

const address = z.object({ bench: z.string().min(1).max(200) });
const limit = 'should be a whole number from 1 to 500';
/** Which entries are wanted, page by page. */
export const auditQuery = z.strictObject({
  ...auditChoice,
  limit: z.coerce.number({ error: limit }).int({ error: limit }).min(1, { error: limit }).max(500, { error: limit }).default(100),
  before: z.coerce.number({ error: 'should be the number of an entry' }).int({ error: 'should be the number of an entry' }).positive({ error: 'should be the number of an entry' }).optional(),
});
const onlyEngineers = { config: { needs: 'engineer' } } as const;
const keys = ['limit', 'before', 'subject', 'who', 'kind', 'text', 'from', 'to'];

/** Entries about changes at a bench: who reads them page by page, and who checks and takes them as a whole. */
export interface BenchAudit extends BenchHistory {
  readonly desk: AuditDesk;
}

/** Who changed what at the bench, the newest first; page with `before`. What takes long is answered in another thread. Reads only. */
export function auditRoutes(app: FastifyInstance, benches: readonly BenchAudit[]): void {
  const answer = async (request: FastifyRequest, reply: FastifyReply, work: (audit: BenchAudit) => unknown): Promise<unknown> => {
    const { bench } = address.parse(request.params);
    const found = benches.find((one) => one.bench === bench);
    if (found === undefined) return reply.code(404).send({ error: 'no bench of that name is running here' });
    try {
      return await work(found);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      return reply.code(error.source === 'audit' ? 400 : 503).send({ error: error.message, problems: error.problems });
    }
  };

  app.get('/api/benches/:bench/audit', onlyEngineers, (request, reply) => answer(request, reply, ({ desk }) => desk.page(asked(auditQuery, request))));
  app.get('/api/benches/:bench/audit/chain', onlyEngineers, (request, reply) => answer(request, reply, (audit) => send(reply, audit, { ask: 'audit-chain' })));
  app.get('/api/benches/:bench/audit.csv', onlyEngineers, (request, reply) =>
    answer(request, reply, (audit) => send(reply, audit, { ask: 'audit-table', ...asked(z.strictObject(auditChoice), request) })),
  );
}

async function send(reply: FastifyReply, { bench, history }: BenchAudit, question: Parameters<BenchAudit['history']['ask']>[1]): Promise<FastifyReply> {
  const { type, body, name } = await history.ask(bench, question);
  if (name !== undefined) reply.header('content-disposition', `attachment; filename="${name}"`);
  return reply.header('content-type', type).header('cache-control', 'no-store').send(body);
}

function asked<T>(schema: z.ZodType<T>, { query }: FastifyRequest): T {
  const found = schema.safeParse(query);
  if (!found.success) throw new InputError('audit', problemsOf(found.error, query, keys));
  return found.data;
}
