import { Readable } from 'node:stream';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { Plan } from '../core/plan.js';
import { InputError, inputError } from '../core/problems.js';
import type { Thresholds } from '../core/thresholds.js';
import { labelsIn, type RunTruth } from '../records/run-labels.js';
import { extentOf } from '../records/run-record.js';
import { runStory } from '../records/run-story.js';
import type { Store } from '../records/store.js';
import { runAddress } from './desk-answers.js';
import { headBytes, pieceBytes, type ParcelHead } from './run-parcel.js';

/** A bench with the records that its runs are taken from. */
export interface TuningSource {
  readonly bench: string;
  /** `null` while they cannot be opened. */
  readonly records: Store | null;
}

/** A recorded run as the page for tuning lists it. */
export interface TuningRun {
  readonly run: number;
  /** ms since 1970 */ readonly wall: number;
  /** s */ readonly seconds: number;
  readonly verdict: 'pass' | 'fail' | 'inconclusive';
  readonly plan: string | null;
  readonly hose: string | null;
  readonly order: string | null;
  /** `null` where nobody labelled it. */
  readonly truth: RunTruth | null;
  /** False where its samples were given up to keep room. */
  readonly readable: boolean;
}

const address = z.object({ bench: z.string().min(1).max(200) });
/** One page of the list. */
export const tuningQuery = z.object({ limit: z.coerce.number().int().min(1).max(200).default(50), before: z.coerce.number().int().positive().optional() });

/** Recorded runs for an engineer to read again: which there are, and everything that judging one needs. Reads only. */
export function tuningRoutes(app: FastifyInstance, sources: readonly TuningSource[]): void {
  const recordsOf = (request: FastifyRequest): { readonly bench: string; readonly store: Store } => {
    const { bench } = address.parse(request.params);
    const source = sources.find((other) => other.bench === bench);
    if (source === undefined) throw inputError('bench', '', 'no bench of that name is running here');
    if (source.records === null) throw inputError('records', '', 'cannot be opened at the moment');
    return { bench, store: source.records };
  };
  const answer = async (reply: FastifyReply, work: () => unknown): Promise<unknown> => {
    try {
      return await work();
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      return reply.code(404).send({ error: error.message });
    }
  };

  app.get('/api/benches/:bench/tuning/runs', { config: { needs: 'engineer' } }, (request, reply) => {
    const query = tuningQuery.safeParse(request.query);
    if (!query.success) return reply.code(400).send({ error: 'limit should be 1 to 200, before the number of a run' });
    const { limit, before } = query.data;
    return answer(reply, () => {
      const { bench, store } = recordsOf(request);
      const runs = store.listRuns({ bench, limit, ...(before !== undefined && { before }) });
      return { runs: runs.flatMap(({ number, state }) => (state === 'open' ? [] : [tuningRun(store, number)])), more: runs.length === limit ? (runs.at(-1)?.number ?? null) : null };
    });
  });

  app.get('/api/benches/:bench/tuning/runs/:run', { config: { needs: 'engineer' } }, (request, reply) =>
    answer(reply, () => {
      const { bench, store } = recordsOf(request);
      const number = runAddress.safeParse(request.params);
      if (!number.success) throw inputError('run', '', 'should be the number of a run');
      const { head, channel, received } = parcelOf(store, bench, number.data.run);
      const { from, to } = head.reading;
      function* parts(): Generator<Uint8Array> {
        yield headBytes(head);
        for (const piece of store.traces.inTurn(channel, from, to, received)) if (piece.time.length > 0) yield pieceBytes(piece);
      }
      return reply.header('content-type', 'application/octet-stream').header('cache-control', 'no-store').send(Readable.from(parts(), { objectMode: false }));
    }),
  );
}

function tuningRun(store: Store, number: number): TuningRun {
  const { run, job, judgement, entries } = runStory(store, number);
  return {
    run: number,
    wall: run.fromWall,
    seconds: (run.to ?? run.from) - run.from,
    verdict: judgement.outcome.verdict,
    plan: judgement.outcome.plan,
    hose: job?.hose ?? null,
    order: job?.order ?? null,
    truth: labelsIn(entries.map(({ entry }) => entry)).truth,
    readable: !store.traceRemoved(number),
  };
}

/** @throws InputError for a run that is not there, not over, or of which nothing is left to read */
function parcelOf(store: Store, bench: string, number: number): { head: ParcelHead; channel: number; received: NonNullable<ReturnType<typeof runStory>['run']['received']> } {
  const { run, judgement } = runStory(store, number);
  const source = `run ${number}`;
  if (run.bench !== bench) throw inputError(source, '', `belongs to another bench ('${run.bench}')`);
  if (run.received === null) throw inputError(source, '', 'is still going on; its record is sealed once the bench is vented');
  if (store.traceRemoved(number)) throw inputError(source, '', 'has no readings any more: they were given up to keep room');
  const content = (hash: string | null): unknown => (hash === null ? null : (store.versions.get(hash)?.content ?? null));
  const reading = run.reading ?? { ...extentOf(run), lid: null };
  return {
    channel: run.channel,
    received: run.received,
    head: {
      run: number,
      from: run.from,
      to: run.to ?? reading.to,
      wall: run.fromWall,
      reading,
      plan: content(judgement.plan) as Plan | null,
      thresholds: content(judgement.thresholds) as Thresholds,
      instrument: run.instrument,
      marks: store.traces.marks(run.channel, reading.from, reading.to, run.received),
      outcome: judgement.outcome,
    },
  };
}
