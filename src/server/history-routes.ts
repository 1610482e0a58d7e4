import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { historyQuestion, type History } from '../history/history-question.js';

/** The runs of one bench. */
export interface BenchHistory {
  readonly bench: string;
  readonly history: History;
}

const looking = { config: { needs: 'viewer' } } as const;
const named = z.object({ bench: z.string().min(1).max(200) });

/** Address of each question below `/api/benches/:bench/history`, and what it asks. */
const questions = [
  ['runs', { ask: 'runs' }],
  ['runs.csv', { ask: 'table' }],
  ['runs/:run', { ask: 'run' }],
  ['runs/:run/trace', { ask: 'trace' }],
  ['groups', { ask: 'groups' }],
  ['statistics', { ask: 'statistics' }],
  ['statistics.csv', { ask: 'statistics', form: 'csv' }],
] as const;

const keys = ['order', 'serial', 'hose', 'plan', 'text', 'result', 'from', 'to', 'limit', 'before', 'columns', 'measure', 'baseline', 'together', 'run'];

/** Runs that are over: found, looked at, counted. Reads only. */
export function historyRoutes(app: FastifyInstance, benches: readonly BenchHistory[]): void {
  for (const [address, what] of questions) {
    app.get(`/api/benches/:bench/history/${address}`, looking, async (request, reply) => {
      const { bench } = named.parse(request.params);
      const found = benches.find((one) => one.bench === bench);
      if (found === undefined) return reply.code(404).send({ error: 'no bench of that name is running here' });
      return send(found, request, reply, what);
    });
  }
}

async function send({ bench, history }: BenchHistory, request: FastifyRequest, reply: FastifyReply, what: object): Promise<FastifyReply> {
  const { run } = request.params as Record<string, string>;
  const wanted = { ...(request.query as Record<string, unknown>), ...(run !== undefined && { run }), ...what };
  const question = historyQuestion.safeParse(wanted);
  if (!question.success) return refuse(reply, 400, new InputError('', problemsOf(question.error, wanted, keys)));
  try {
    const { type, body, name } = await history.ask(bench, question.data);
    if (name !== undefined) reply.header('content-disposition', `attachment; filename="${name}"`);
    return await reply.header('content-type', type).header('cache-control', 'no-store').send(body);
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return refuse(reply, 404, error);
  }
}

const refuse = (reply: FastifyReply, status: number, { message, problems }: InputError) => reply.code(status).send({ error: message, problems });
