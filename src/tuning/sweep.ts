import type { Thresholds } from '../core/thresholds.js';
import { gatherLabelled, type GatherOptions, type LabelledSet } from './labelled-runs.js';
import type { LibraryAddress } from './run-library.js';
import { sweepPoints, type Sweep, type SweepPoint } from './sweep-spec.js';
import { tally, usualCosts, type Costs, type Tally } from './tally.js';

/** One combination of values and how it does. */
export interface SweepRow extends Tally {
  readonly values: SweepPoint['values'];
}

export interface SweepReport {
  readonly keys: readonly string[];
  /** The thresholds as they are. */
  readonly present: Tally;
  readonly rows: readonly SweepRow[];
  /** Of the rows, the one that costs least, the first of equals; `null` where nothing is labelled. */
  readonly cheapest: number | null;
  readonly labelled: LabelCounts;
  readonly costs: Costs;
  readonly notes: readonly string[];
  readonly problems: readonly string[];
}

export interface LabelCounts {
  readonly leaking: number;
  readonly sound: number;
  /** Of which the recording cannot tell. */
  readonly untold: number;
  readonly realSpikes: number;
  readonly falseSpikes: number;
  readonly unlabelled: number;
  /** Kinds of runs: hose and plan. */
  readonly groups: number;
}

export interface TuneOptions extends GatherOptions {
  /** In the place of what each run was judged by. */
  readonly base?: Thresholds;
  readonly costs?: Costs;
}

/** The trade-off over the values of one or two thresholds, by the labelled runs of a library. @throws InputError */
export async function sweepLibrary(address: LibraryAddress, sweeps: readonly Sweep[], { base, costs = usualCosts, ...options }: TuneOptions = {}): Promise<SweepReport> {
  const points = sweepPoints(sweeps);
  const of = base === undefined ? {} : { thresholds: base };
  const set = await gatherLabelled(address, [of, ...points.map(({ changes }) => ({ ...of, changes }))], options);
  const at = (i: number) => tally(set.runs.map(({ labels, marks }) => ({ labels, marked: marks[i] as (typeof marks)[number] })), costs);
  const rows = points.map(({ values }, i) => ({ values, ...at(i + 1) }));
  const least = Math.min(...rows.map(({ cost }) => cost));
  return {
    keys: sweeps.map(({ key }) => key), present: at(0), rows, costs,
    cheapest: set.runs.length === 0 ? null : rows.findIndex(({ cost }) => cost === least),
    labelled: labelCounts(set), notes: notesOf(set, sweeps.map(({ key }) => key)), problems: set.problems,
  };
}

export function labelCounts({ runs, unlabelled }: LabelledSet): LabelCounts {
  const spikes = runs.flatMap(({ labels }) => labels.spikes);
  return {
    leaking: runs.filter(({ labels }) => labels.truth === 'truly leaking').length,
    sound: runs.filter(({ labels }) => labels.truth === 'truly sound').length,
    untold: runs.filter(({ labels }) => labels.truth === 'cannot tell').length,
    realSpikes: spikes.filter(({ real }) => real).length,
    falseSpikes: spikes.filter(({ real }) => !real).length,
    unlabelled,
    groups: new Set(runs.map(({ group }) => group)).size,
  };
}

/** Thresholds that decide what is told as a spike, and hardly ever a verdict. */
export const spikeKeys: readonly string[] = ['spikeHeight', 'spikeWidth', 'glitchWidth', 'slewLimit'];

/** What the labelled runs cannot tell about these thresholds, each a sentence. */
export function notesOf(set: LabelledSet, keys: readonly string[]): string[] {
  const { leaking, sound, untold, realSpikes, falseSpikes } = labelCounts(set);
  const spikes = keys.filter((key) => spikeKeys.includes(key));
  return [
    ...(leaking + untold === 0 ? ['No run is labelled truly leaking, or as one that cannot tell: a false pass cannot show.'] : []),
    ...(sound === 0 ? ['No run is labelled truly sound: a false fail cannot show.'] : []),
    ...(spikes.length > 0 && realSpikes === 0 ? [`No labelled run has a real spike: nothing shows when ${spikes.join(' and ')} misses one.`] : []),
    ...(spikes.length > 0 && falseSpikes === 0 ? [`No labelled run has an excursion that is known to be no spike: nothing shows when ${spikes.join(' and ')} tells too many.`] : []),
  ];
}
