import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { parsePlan } from '../core/plan.js';
import { InputError, inputError, problemsOf } from '../core/problems.js';
import { parseThresholds } from '../core/thresholds.js';
import { yamlOf } from '../files/yaml-file.js';
import { knownTruths } from '../records/run-labels.js';
import type { Candidate } from '../tuning/judging.js';
import type { LibraryAddress, LibraryChoice } from '../tuning/run-library.js';
import { parseSweep, sweepPoints } from '../tuning/sweep-spec.js';
import { sweepLibrary } from '../tuning/sweep.js';
import { usualCosts } from '../tuning/tally.js';
import { FlipReport, whatWouldFlip } from '../tuning/what-would-flip.js';
import { sendLines } from './line-stream.js';

/** A bench whose recorded runs can be judged again. */
export interface ComparedBench {
  readonly bench: string;
  /** Path of its store. */
  readonly store: string;
  readonly software: string;
  /** Beside the one that serves pages; the one that reads the instrument must keep its own. Default 1. */
  readonly threads?: number;
}

/** Comparisons at once, over all visitors: each keeps a core busy. */
const atOnce = 2;

const choiceSchema = z.strictObject({
  numbers: z.array(z.tuple([z.int().positive(), z.int().positive()])).max(100).optional().describe('numbers of runs, first and last of each range'),
  plan: z.string().max(200).optional().describe('name of the plan, or its beginning'),
  hose: z.string().max(200).optional(),
  since: z.number().optional().describe('ms since 1970-01-01T00:00Z'),
  until: z.number().optional().describe('ms since 1970-01-01T00:00Z'),
  verdict: z.enum(['pass', 'fail', 'inconclusive']).optional(),
  label: z.enum([...knownTruths, 'labelled', 'not labelled']).optional(),
});
const yamlText = z.string().max(20_000);

/** What is tried: texts as in a plan and a thresholds file. */
export const compareBody = z.strictObject({
  thresholds: yamlText.optional().describe('YAML, as in a thresholds file'), plan: yamlText.optional().describe('YAML, as in a plan file'), choice: choiceSchema.optional().describe('which runs; all where left out'),
});
/** Ranges as `dwellkeeper tune --sweep` takes them. */
export const sweepBody = z.strictObject({ sweeps: z.array(z.string().max(200)).min(1).max(2).describe("such as 'spikeHeight=0.5 %..3 %/6'"), choice: choiceSchema.optional(), cost: z.number().min(1).max(1e6).optional().describe('of a false pass; a false fail is 1') });

const named = z.object({ bench: z.string().min(1).max(200) });
const engineer = { config: { needs: 'engineer' } } as const;

/** Recorded runs judged again by something else: what would flip, and the trade-off over labelled runs. Writes nothing. */
export function compareRoutes(app: FastifyInstance, benches: readonly ComparedBench[]): void {
  let going = 0;

  /** Checks all that a person must correct before anything is sent, then lets the work tell its lines. */
  const start = <Asked>(
    request: FastifyRequest, reply: FastifyReply, ask: (bench: ComparedBench) => Asked,
    work: (asked: Asked, bench: ComparedBench, ...lines: Parameters<Parameters<typeof sendLines>[2]>) => Promise<void>,
  ): FastifyReply => {
    const bench = benches.find((one) => one.bench === named.parse(request.params).bench);
    if (bench === undefined) return reply.code(404).send({ error: 'no bench of that name is running here' });
    let asked: Asked;
    try {
      asked = ask(bench);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      return reply.code(400).send({ error: error.message, problems: error.problems });
    }
    if (going >= atOnce) return reply.code(429).send({ error: `${going} comparisons are going on already; wait for one to end, or stop it` });
    going++;
    return sendLines(request, reply, (lines, signal) => work(asked, bench, lines, signal).finally(() => going--));
  };

  app.post('/api/benches/:bench/compare', engineer, (request, reply) =>
    start(request, reply, (bench) => comparisonIn(request.body, bench), async ({ candidate, choice }, bench, lines, signal) => {
      const report = new FlipReport();
      let begun = false;
      for await (const step of whatWouldFlip(addressOf(bench), candidate, { choice, signal, threads: bench.threads ?? 1 })) {
        const { done, total, run } = step;
        if (!begun) await lines.write({ line: 'begin', total });
        begun = true;
        report.take(step);
        if ('result' in run && run.result.change.concern !== 'none') await lines.write({ line: 'run', ...run.result });
        await lines.sometimes(() => ({ line: 'progress', done, total, flips: report.summary().flips }));
      }
      if (!begun) await lines.write({ line: 'begin', total: 0 });
      await lines.write({ line: 'end', summary: report.summary() });
    }),
  );

  app.post('/api/benches/:bench/sweep', engineer, (request, reply) =>
    start(request, reply, (bench) => sweepIn(request.body, bench), async ({ sweeps, choice, costs }, bench, lines, signal) => {
      const progress = (done: number, total: number): void => void lines.sometimes(() => ({ line: 'progress', done, total }));
      const sweep = await sweepLibrary(addressOf(bench), sweeps, { choice, costs, signal, threads: bench.threads ?? 1, progress });
      await lines.write({ line: 'end', sweep });
    }),
  );
}

const addressOf = ({ store, software }: ComparedBench): LibraryAddress => ({ kind: 'store', path: store, software });

/** @throws InputError */
function comparisonIn(body: unknown, { bench }: ComparedBench): { candidate: Candidate; choice: LibraryChoice } {
  const { thresholds, plan, choice } = checked(compareBody, body);
  if (thresholds === undefined && plan === undefined) throw inputError('compare', '', 'says nothing to try; give thresholds, plan or both');
  return {
    candidate: {
      ...(thresholds !== undefined && { thresholds: yamlOf(thresholds, 'thresholds').check(parseThresholds) }),
      ...(plan !== undefined && { plan: yamlOf(plan, 'plan').check(parsePlan) }),
    },
    choice: ofBench(choice, bench),
  };
}

/** @throws InputError */
function sweepIn(body: unknown, { bench }: ComparedBench) {
  const { sweeps, choice, cost } = checked(sweepBody, body);
  const found = sweeps.map(parseSweep);
  sweepPoints(found);
  return { sweeps: found, choice: ofBench(choice, bench), costs: { ...usualCosts, ...(cost !== undefined && { falsePass: cost }) } };
}

function checked<Body>(schema: z.ZodType<Body>, body: unknown): Body {
  const found = schema.safeParse(body);
  if (!found.success) throw new InputError('', problemsOf(found.error, body, ['thresholds', 'plan', 'choice', 'sweeps', 'cost', ...Object.keys(choiceSchema.shape)]));
  return found.data;
}

/** Only what was given, and only of this bench. */
const ofBench = (choice: z.output<typeof choiceSchema> = {}, bench: string): LibraryChoice =>
  ({ ...(Object.fromEntries(Object.entries(choice).filter(([, value]) => value !== undefined)) as LibraryChoice), bench });
