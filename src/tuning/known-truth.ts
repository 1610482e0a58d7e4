import { z } from 'zod';
import { inputError, InputError, problemsOf } from '../core/problems.js';
import type { Verdict } from '../core/outcome.js';
import type { Instrument } from '../core/trace.js';
import { noLabels, truthLabels, type RunLabels, type RunTruth } from '../records/run-labels.js';

const finite = z.number();
const time = z.object({ kind: z.string(), at: finite });

/** What is read of a NAME.truth.json, whoever wrote it; all else in it is left alone. */
const truthSchema = z.object({
  /** A person's own word; it goes before everything worked out from the rest. */
  label: z.enum(truthLabels).optional(),
  verdict: z.enum(['pass', 'fail', 'inconclusive']).optional(),
  /** False where the recording cannot decide: then nothing is taken from it. */
  decidable: z.boolean().optional(),
  events: z.array(time).optional(),
  spikes: z.array(z.object({ at: finite, real: z.boolean() })).optional(),
  instrument: z
    .object({
      resolution: finite.optional(),
      range: z.object({ lower: finite, upper: finite }).optional(),
      accuracyClass: finite.optional(),
      calibrationUncertainty: finite.optional(),
      compliance: finite.optional(),
      strokeVolume: finite.optional(),
      calibrationOverdue: z.boolean().optional(),
      identity: z.string().optional(),
    })
    .optional(),
});

const truthOf: Readonly<Record<Verdict, RunTruth>> = { fail: 'truly leaking', pass: 'truly sound', inconclusive: 'cannot tell' };

export interface KnownTruth {
  readonly labels: RunLabels;
  readonly instrument: Instrument | null;
}

/**
 * Reads what is known of a trace from the text of its NAME.truth.json. A run that truly fails is 'truly leaking', one that
 * truly passes 'truly sound', one that is truly inconclusive 'cannot tell'; a truth at the edge of what a recording can
 * decide gives no label. A spike made to happen is real, a
 * glitch is none, and where `events` are listed there are no others.
 * @throws InputError
 */
export function knownTruth(text: string, source: string): KnownTruth {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (cause) {
    throw inputError(source, '', 'is not JSON; it should be for example {"label":"truly leaking"}', cause);
  }
  const found = truthSchema.safeParse(value);
  if (!found.success) throw new InputError(source, problemsOf(found.error, value, Object.keys(truthSchema.shape)));
  const { label, verdict, decidable, events, spikes, instrument } = found.data;
  const told = decidable === false || verdict === undefined ? null : truthOf[verdict];
  const made = (events ?? []).filter(({ kind }) => kind === 'spike' || kind === 'glitch').map(({ kind, at }) => ({ at, real: kind === 'spike' }));
  return {
    labels: { ...noLabels, truth: label === undefined ? told : label === 'not known' ? null : label, spikes: [...made, ...(spikes ?? [])].sort((a, b) => a.at - b.at), ...(events !== undefined && { complete: true }) },
    instrument: instrument === undefined ? null : withoutAbsent(instrument),
  };
}

const withoutAbsent = (value: object): Instrument => Object.fromEntries(Object.entries(value).filter(([, part]) => part !== undefined));
