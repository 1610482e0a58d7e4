import { inputError } from '../core/problems.js';
import type { FoundEvent } from '../core/outcome.js';
import type { Author } from './add-to-run.js';
import type { AppendedEntry, Entry, Store } from './store.js';

/** What can be known of a run, whatever it was judged to be. `cannot tell`: the recording hides it, so that it must neither pass nor fail. */
export const knownTruths = ['truly leaking', 'truly sound', 'cannot tell'] as const;
export type RunTruth = (typeof knownTruths)[number];

/** What an engineer says of a run; `not known` takes back what was said. */
export const truthLabels = [...knownTruths, 'not known'] as const;
export type TruthLabel = (typeof truthLabels)[number];

/** What an engineer knows of an excursion: pressure that was there, or not. */
export const spikeLabels = ['real spike', 'no spike'] as const;
export type SpikeLabel = (typeof spikeLabels)[number];

/** Everything labelled of one run; the newest label of a thing holds. */
export interface RunLabels {
  /** `null` where nobody knows or said. */
  readonly truth: RunTruth | null;
  /** s on the trace's own clock, in order. */
  readonly spikes: readonly { readonly at: number; readonly real: boolean }[];
  /** The spikes above are all there are: whatever else is told as one is none. */
  readonly complete?: true;
}

export const noLabels: RunLabels = { truth: null, spikes: [] };

/** s; a label so near to another excursion is about the same one. */
export const sameExcursion = 0.1;

/** What the entries of a run say of it. Labels in other words than ours are left alone. */
export function labelsIn(entries: readonly Entry[]): RunLabels {
  let truth: RunLabels['truth'] = null;
  let spikes: { at: number; real: boolean }[] = [];
  for (const entry of entries) {
    if (entry.kind !== 'label') continue;
    const { label, at } = entry;
    if (at !== undefined && (label === 'real spike' || label === 'no spike')) {
      spikes = [...spikes.filter((other) => Math.abs(other.at - at) > sameExcursion), { at, real: label === 'real spike' }];
    } else if (at === undefined && isTruth(label)) truth = label;
    else if (at === undefined && label === 'not known') truth = null;
  }
  return { truth, spikes: spikes.sort((a, b) => a.at - b.at) };
}

const isTruth = (label: string): label is RunTruth => knownTruths.some((known) => known === label);

/** A label as it is asked for; `at` (s on the trace's own clock) names the excursion that a spike label is about. */
export interface WantedLabel {
  readonly label: TruthLabel | SpikeLabel;
  readonly at?: number;
}

/**
 * Appends a label to a run that is over. A label that contradicts an earlier one needs its reason; both stay on record.
 * @throws InputError
 */
export function labelRun(store: Store, number: number, { label, at }: WantedLabel, { who, why = '' }: Author): AppendedEntry {
  const source = `run ${number}`;
  const run = store.getRun(number);
  if (run === null) throw inputError(source, '', 'there is no such run');
  if (run.outcome === null) throw inputError(source, 'label', 'is still going on; label it once the bench is vented');
  const entries = store.entriesOf(number).map(({ entry }) => entry);
  const before = labelsIn(entries);
  const place = isSpikeLabel(label) ? excursionAt(run.outcome.events, at, source) : undefined;
  if (place === undefined && at !== undefined) throw inputError(source, 'at', `belongs to '${spikeLabels.join("' and '")}' only; leave it out with '${label}'`);
  const said = place === undefined ? before.truth : (before.spikes.find((other) => Math.abs(other.at - place) <= sameExcursion)?.real ?? null);
  const says = place === undefined ? (label === 'not known' ? null : label) : label === 'real spike';
  if (said !== null && said !== says && why.trim() === '') throw inputError(source, 'why', 'is empty; there is another label already, and a change needs its reason');
  const entry = { kind: 'label', label, ...(place === undefined ? {} : { at: place }) } as const;
  return store.addEntry(number, entry, who, why.trim() === '' ? undefined : why.trim());
}

const isSpikeLabel = (label: TruthLabel | SpikeLabel): label is SpikeLabel => (spikeLabels as readonly string[]).includes(label);

/** The time of the excursion that was meant. Where none was told, the moment itself: it may be a spike that was missed. */
function excursionAt(events: readonly FoundEvent[], at: number | undefined, source: string): number {
  if (at === undefined || !Number.isFinite(at)) throw inputError(source, 'at', 'is missing; say at which time (s on the clock of the trace) the excursion is');
  const near = events
    .filter((event) => (event.kind === 'spike' || event.kind === 'glitch') && Math.abs(event.at - at) <= sameExcursion)
    .sort((a, b) => Math.abs(a.at - at) - Math.abs(b.at - at))[0];
  return near?.at ?? at;
}
