import { z } from 'zod';
import type { RunChange } from '../../src/tuning/run-change.js';
import { Refusal, send } from './tuning-api.js';

const labels = z.object({ truth: z.enum(['truly leaking', 'truly sound', 'cannot tell']).nullable() });
const line = z.discriminatedUnion('line', [
  z.object({ line: z.literal('begin'), total: z.number() }),
  z.object({ line: z.literal('progress'), done: z.number(), total: z.number() }),
  z.object({ line: z.literal('run'), key: z.union([z.number(), z.string()]), name: z.string(), change: z.custom<RunChange>((value) => typeof value === 'object' && value !== null && 'concern' in value), labels, byProgram: z.boolean().catch(false), otherPlan: z.string().nullable().catch(null) }),
  z.object({ line: z.literal('end'), summary: z.object({ unread: z.number().optional().catch(undefined), problems: z.array(z.string()).optional().catch(undefined) }) }),
  z.object({ line: z.literal('failed'), error: z.string() }),
]);
export type LibraryLine = z.output<typeof line>;

/**
 * Lines of JSON as they come, whatever the pieces they come in.
 * @throws Refusal for an answer that says no
 */
export async function* linesOf(answer: Response): AsyncGenerator<unknown> {
  const reader = answer.body?.pipeThrough(new TextDecoderStream()).getReader();
  if (reader === undefined) return;
  let rest = '';
  for (;;) {
    const { done, value } = await reader.read();
    rest += value ?? '';
    const parts = rest.split('\n');
    rest = done ? '' : (parts.pop() ?? '');
    for (const part of parts) if (part.trim() !== '') yield JSON.parse(part) as unknown;
    if (done) return;
  }
}

/** What the library is judged with, as files have it. */
export interface LibraryTrial {
  readonly thresholds: string;
  readonly plan?: string;
  /** Only runs under the plan of this name. */
  readonly of?: string;
}

/** Judges the recorded runs of the bench with something else, on the server. Aborting the signal ends the work there, too. @throws Refusal */
export async function* judgeLibrary(base: string, { thresholds, plan, of }: LibraryTrial, signal: AbortSignal): AsyncGenerator<LibraryLine> {
  for await (const found of linesOf(await send(`${base}/compare`, 'POST', { thresholds, ...(plan !== undefined && { plan }), ...(of !== undefined && { choice: { plan: of } }) }, signal))) {
    const read = line.safeParse(found);
    // A newer server may say more: what is not known here is left out.
    if (!read.success) continue;
    if (read.data.line === 'failed') throw new Refusal(read.data.error, 500);
    yield read.data;
  }
}
