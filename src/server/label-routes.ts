import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError, inputError, problemsOf } from '../core/problems.js';
import { labelsIn, labelRun, spikeLabels, truthLabels, type RunLabels } from '../records/run-labels.js';
import type { Store } from '../records/store.js';
import { authorOf } from './author.js';

/** A bench whose runs can be labelled. */
export interface LabelledBench {
  readonly bench: string;
  /** `null` while it is not recording. */
  readonly records: Store | null;
}

/** What is said of a run. `at` is s on the clock of its trace. */
export interface LabelAnswer {
  readonly labels: RunLabels;
  readonly said: readonly { readonly label: string; readonly at: number | null; readonly who: string; readonly why: string | null; /** ms since 1970 */ readonly wall: number }[];
}

const named = z.object({ bench: z.string().min(1).max(200), run: z.coerce.number().int().positive().max(Number.MAX_SAFE_INTEGER) });

/** The label beside `who` and `why`. */
export const labelBody = z.object({ label: z.enum([...truthLabels, ...spikeLabels]), at: z.number().optional() });

/** What an engineer knows of a run, for tuning: appended and sealed, never edited. */
export function labelRoutes(app: FastifyInstance, benches: readonly LabelledBench[]): void {
  const address = '/api/benches/:bench/runs/:run/labels';
  const answer = (request: FastifyRequest, reply: FastifyReply, work: (store: Store, run: number) => void, status: number): LabelAnswer | FastifyReply => {
    try {
      const { store, run } = runIn(request, benches);
      work(store, run);
      return labelsOf(store, run);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      return reply.code(status).send({ error: error.message, problems: error.problems });
    }
  };
  app.get(address, { config: { needs: 'viewer' } }, (request, reply) => answer(request, reply, () => undefined, 404));
  app.post(address, { config: { needs: 'engineer' } }, (request, reply) =>
    answer(request, reply, (store, run) => {
      const author = authorOf(request);
      const found = labelBody.safeParse(request.body);
      if (!found.success) throw new InputError('label', problemsOf(found.error, request.body, ['label', 'at', 'who', 'why']));
      const { label, at } = found.data;
      labelRun(store, run, { label, ...(at !== undefined && { at }) }, author);
    }, 400));
}

/** @throws InputError */
function runIn(request: FastifyRequest, benches: readonly LabelledBench[]): { store: Store; run: number } {
  const found = named.safeParse(request.params);
  if (!found.success) throw inputError('run', '', 'should be the number of a run');
  const bench = benches.find((one) => one.bench === found.data.bench);
  if (bench === undefined) throw inputError('', '', 'no bench of that name is running here');
  if (bench.records === null) throw inputError(bench.bench, '', 'is not recording at this moment; try again');
  if (bench.records.getRun(found.data.run)?.bench !== bench.bench) throw inputError(`run ${found.data.run}`, '', 'there is no such run on this bench');
  return { store: bench.records, run: found.data.run };
}

function labelsOf(store: Store, run: number): LabelAnswer {
  const entries = store.entriesOf(run);
  return {
    labels: labelsIn(entries.map(({ entry }) => entry)),
    said: entries.flatMap(({ entry, who, why, wall }) => (entry.kind === 'label' ? [{ label: entry.label, at: entry.at ?? null, who, why, wall }] : [])),
  };
}
