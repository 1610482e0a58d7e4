import type { FastifyInstance, FastifyReply } from 'fastify';
import { z } from 'zod';
import type { LiveView } from '../core/live.js';
import type { PressureUnit } from '../core/units.js';
import type { BenchFeed, BenchHealth, Stretch, TraceEnvelope } from './bench-feed.js';

/** A bench as the list of benches shows it. */
export interface BenchLine extends Pick<LiveView, 'phase' | 'verdict' | 'sentence'> {
  readonly name: string;
  readonly unit: PressureUnit;
  readonly health: BenchHealth;
}

/** Thinned samples as JSON; a missing one is `null`. */
export interface EnvelopeAnswer {
  readonly time_s: readonly number[];
  readonly pressure_bar: readonly (number | null)[];
  readonly samples: number;
}

/** Which bench an address means. */
export const benchAddress = z.object({ bench: z.string().min(1).max(200) });
/** Of the list of finished runs. */
export const recentQuery = z.object({ limit: z.coerce.number().int().min(1).max(500).default(50) });
const columns = z.coerce.number().int().min(1).max(4000).default(1000);
/** Of a past stretch of a trace: of a run, or from one time to another (s). */
export const envelopeQuery = z.union([
  z.object({ run: z.string().min(1).max(200), columns }),
  z.object({ from: z.coerce.number(), to: z.coerce.number(), columns }).refine(({ from, to }) => to > from),
]);

const looking = { config: { needs: 'viewer' } } as const;

/** The JSON of the pages: benches, finished runs, and past stretches of a trace. Reads only. */
export function benchRoutes(app: FastifyInstance, benches: readonly BenchFeed[]): void {
  const find = (params: unknown): BenchFeed | undefined => {
    const { bench } = benchAddress.parse(params);
    return benches.find(({ name }) => name === bench);
  };

  app.get('/api/benches', looking, () =>
    benches.map((feed): BenchLine => {
      const { phase, verdict, sentence } = feed.view();
      return { name: feed.name, unit: feed.unit, phase, verdict, sentence, health: feed.health() };
    }),
  );

  app.get('/api/benches/:bench/runs', looking, (request, reply) => {
    const query = recentQuery.safeParse(request.query);
    if (!query.success) return refuse(reply, 400, 'limit should be a whole number from 1 to 500');
    return find(request.params)?.recentRuns(query.data.limit) ?? unknownBench(reply);
  });

  app.get('/api/benches/:bench/envelope', looking, (request, reply) => {
    const query = envelopeQuery.safeParse(request.query);
    if (!query.success) return refuse(reply, 400, 'give run=ID, or from and to in s with to after from; columns should be 1 to 4000');
    const feed = find(request.params);
    if (!feed) return unknownBench(reply);
    const { columns: wide, ...where } = query.data;
    const found = feed.envelope(where satisfies Stretch, wide);
    return found ? envelopeJson(found) : refuse(reply, 404, 'no such run is on record');
  });
}

/** Columns as JSON; a missing sample is `null`, and whoever reads it must not turn that into a number. */
const envelopeJson = ({ time, pressure, samples }: TraceEnvelope): EnvelopeAnswer => ({
  time_s: Array.from(time),
  pressure_bar: Array.from(pressure, (value) => (Number.isFinite(value) ? value : null)),
  samples,
});

const refuse = (reply: FastifyReply, status: number, error: string) => reply.code(status).send({ error });
const unknownBench = (reply: FastifyReply) => refuse(reply, 404, 'no bench of that name is running here');
