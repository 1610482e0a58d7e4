import { z } from 'zod';
import { linesOf } from './library-stream.js';
import { Refusal, send } from './tuning-api.js';

const proportion = z.object({ count: z.number(), of: z.number(), share: z.number().nullable(), lower: z.number(), upper: z.number() });
const tally = z.object({ falsePass: proportion, falseFail: proportion, undecided: proportion, spikesMissed: proportion, falseSpikes: proportion, cost: z.number() });
const report = z.object({
  present: tally,
  rows: z.array(tally.extend({ values: z.record(z.string(), z.string()) })),
  cheapest: z.number().nullable(),
  labelled: z.object({ leaking: z.number(), sound: z.number(), untold: z.number().catch(0) }),
  notes: z.array(z.string()),
  problems: z.array(z.string()),
});
const line = z.discriminatedUnion('line', [
  z.object({ line: z.literal('begin') }),
  z.object({ line: z.literal('progress'), done: z.number(), total: z.number() }),
  z.object({ line: z.literal('end'), sweep: report }),
  z.object({ line: z.literal('failed'), error: z.string() }),
]);

export type TradeOff = z.output<typeof report>;
export type Share = z.output<typeof proportion>;

/** Judges all labelled runs with each value of a threshold, on the server. Aborting the signal ends the work there, too. @throws Refusal */
export async function tradeOff(base: string, sweep: string, progress: (done: number, of: number) => void, signal: AbortSignal): Promise<TradeOff> {
  for await (const found of linesOf(await send(`${base}/sweep`, 'POST', { sweeps: [sweep] }, signal))) {
    const read = line.safeParse(found);
    if (!read.success) continue;
    if (read.data.line === 'failed') throw new Refusal(read.data.error, 500);
    if (read.data.line === 'progress') progress(read.data.done, read.data.total);
    if (read.data.line === 'end') return read.data.sweep;
  }
  throw new Refusal('The bench stopped answering before all runs were judged.', 0);
}

/** One curve: a place 0 to 1 along the values, a share and its interval. */
export interface CurvePoint {
  readonly at: number;
  readonly share: number;
  readonly lower: number;
  readonly upper: number;
}

/** Shares over the values, evenly spaced as they were tried. Empty where there is nothing to count. */
export function curveOf(rows: readonly Share[]): CurvePoint[] {
  return rows.flatMap(({ share, lower, upper }, i) => (share === null ? [] : [{ at: rows.length < 2 ? 0.5 : i / (rows.length - 1), share, lower, upper }]));
}

/** `3 of 30` */
export const countWords = ({ count, of }: Share): string => (of === 0 ? 'none labelled' : `${count} of ${of}`);
