import { standardThresholds, type Thresholds } from '../core/thresholds.js';
import { chooseValue, comeOutBetter, type Choice } from './choose-value.js';
import { gatherLabelled, type LabelledSet } from './labelled-runs.js';
import { proposalGrid } from './proposal-grid.js';
import { isStandard, pointsOf, type Point } from './proposal-points.js';
import type { LibraryAddress } from './run-library.js';
import { labelCounts, notesOf, spikeKeys, type LabelCounts, type TuneOptions } from './sweep.js';
import { tally, usualCosts, type Costs, type Tally } from './tally.js';
import { written, type ThresholdKey } from './written-thresholds.js';

/** What is proposed for one threshold. */
export interface Proposal {
  readonly key: ThresholdKey;
  /** As written. */
  readonly present: string;
  /** As written; the present one where it is kept. */
  readonly proposed: string;
  readonly reason: string;
  /** Cost of all mistakes on runs that the choice had not seen, as it is and with the choice; `null` where nothing could be tried. */
  readonly heldOut: Choice['heldOut'] | null;
}

export interface ProposalReport {
  readonly proposals: readonly Proposal[];
  /** All proposals together. */
  readonly thresholds: Thresholds;
  readonly present: Tally;
  readonly proposed: Tally;
  readonly costs: Costs;
  readonly labelled: LabelCounts;
  readonly notes: readonly string[];
  readonly problems: readonly string[];
}

export interface ProposeOptions extends TuneOptions {
  readonly keys?: readonly ThresholdKey[];
  /** How often the whole row of thresholds is gone through: what is best for one may change with another. */
  readonly rounds?: number;
  /** Try all standard values at once, too. */
  readonly standard?: boolean;
}

/**
 * Proposes thresholds from labelled runs. Each threshold is tried over its values with all others as they are; a value is
 * taken where it costs less, also on runs of hoses and plans that it was not chosen by. Some thresholds are tried in pairs,
 * and all standard values at once, too. Then the gains are put together, the largest first, and each stays only if it still
 * helps beside those before it.
 * @throws InputError
 */
export async function proposeThresholds(address: LibraryAddress, options: ProposeOptions = {}): Promise<ProposalReport> {
  const { base, costs = usualCosts, keys = Object.keys(proposalGrid) as ThresholdKey[], rounds = 3, standard: tryStandard = true, ...work } = options;
  const told = new Map<ThresholdKey, Proposal>();
  let set: LabelledSet | null = null;
  let [start, present, proposed] = [base ?? standardThresholds, tally([], costs), tally([], costs)];
  let changes: Partial<Thresholds> = {};
  let flat = new Set<ThresholdKey>();
  for (let round = 0; round < rounds; round++) {
    // What made no difference to any run is not tried again, once the worst is mended: before that it may be hidden.
    if (round < 2) flat = new Set();
    const wanted = keys.filter((key) => !flat.has(key));
    const points = pointsOf(wanted, round === 0 && tryStandard ? keys : []);
    const found = await gatherLabelled(address, [candidate(base, changes), ...points.map(({ change }) => candidate(base, { ...changes, ...change }))], work);
    if (set === null) {
      set = found;
      start = base ?? found.own[0] ?? standardThresholds;
      present = proposed = tallyAt(found, 0, costs);
    }
    if (found.runs.length === 0) break;
    const gains = [...new Set(points.map(({ keys: of }) => of))].flatMap((of): Gain[] => {
      const places = points.flatMap((point, i) => (point.keys === of ? [i + 1] : []));
      const [key] = of as [ThresholdKey];
      const standard = places.findIndex((place) => isStandard(points[place - 1] as Point));
      const choice = unknowable(found, key) ?? chooseValue(found.runs, places, costs, standard);
      const point = typeof choice === 'string' || choice.place < 0 ? undefined : points[(places[choice.place] ?? 0) - 1];
      if (of.length === 1 && (typeof choice === 'string' || choice.flat)) flat.add(key);
      if (of.length === 1 && !told.has(key)) told.set(key, keptAsItIs(key, choice, start, changes));
      return point === undefined || typeof choice === 'string' ? [] : [{ ...point, choice }];
    });
    if (gains.length === 0) break;
    // Of equal gains the one that changes less goes first.
    gains.sort((one, other) => gainOf(other) - gainOf(one) || one.keys.length - other.keys.length);
    // What goes first keeps its values: those after it only add theirs.
    const together = gains.map((_, i) => gains.slice(0, i + 1).reduceRight<Partial<Thresholds>>((all, { change }) => ({ ...all, ...change }), changes));
    const tried = await gatherLabelled(address, together.map((all) => candidate(base, all)), work);
    const tallies = together.map((_, i) => tallyAt(tried, i, costs));
    const least = tallies.findIndex(({ cost }) => cost === Math.min(...tallies.map((one) => one.cost)));
    const taken = new Set<ThresholdKey>();
    gains.forEach(({ keys: of, change, choice }, i) => {
      for (const key of of) {
        if (taken.has(key)) continue;
        const before = { key, present: written(start, key) };
        if (i <= least) {
          taken.add(key);
          if (of.length > 2 && before.present === written({ ...start, ...change }, key)) continue;
          told.set(key, { ...before, proposed: written({ ...start, ...change }, key), reason: reasonOf(choice, of, key), heldOut: choice.heldOut });
        } else if (of.length === 1) {
          told.set(key, { ...before, proposed: written({ ...start, ...changes }, key), reason: 'a value that does better alone adds nothing beside the others', heldOut: choice.heldOut });
        }
      }
    });
    changes = together[least] ?? changes;
    proposed = tallies[least] ?? proposed;
  }
  const labelled = set ?? { runs: [], unlabelled: 0, own: [], problems: [] };
  return {
    proposals: [...told.values()], thresholds: { ...start, ...changes }, present, proposed, costs, labelled: labelCounts(labelled),
    notes: [...(labelled.runs.length === 0 ? [] : notesOf(labelled, keys)), ...more(labelled, base)], problems: labelled.problems,
  };
}

type Gain = Point & { readonly choice: Choice };

const gainOf = ({ choice: { cost } }: Gain): number => cost.present - cost.chosen;

/** What is told of a threshold unless one of its values is taken. */
function keptAsItIs(key: ThresholdKey, choice: Choice | string, start: Thresholds, changes: Partial<Thresholds>): Proposal {
  const [present, usual] = [written(start, key), written(standardThresholds, key)];
  const reason = typeof choice === 'string' ? choice : choice.reason;
  return {
    key, present, proposed: written({ ...start, ...changes }, key),
    reason: present === usual ? reason : `${reason}; the standard value is ${usual}`,
    heldOut: typeof choice === 'string' ? null : choice.heldOut,
  };
}

function reasonOf({ reason, better }: Choice, keys: readonly ThresholdKey[], key: ThresholdKey): string {
  if (keys.length > 2) return `${comeOutBetter(better)} with all standard values together`;
  const partner = keys.find((other) => other !== key);
  return partner === undefined ? reason : `${reason}, together with ${partner}`;
}

const candidate = (base: Thresholds | undefined, changes: Partial<Thresholds>) => ({ ...(base && { thresholds: base }), changes });

const tallyAt = ({ runs }: LabelledSet, at: number, costs: Costs): Tally =>
  tally(runs.map(({ labels, marks }) => ({ labels, marked: marks[at] as (typeof marks)[number] })), costs);

/** Why nothing can be said of a threshold at all; `null` where the runs may tell. */
function unknowable(set: LabelledSet, key: ThresholdKey): string | null {
  const { leaking, sound, untold, realSpikes, falseSpikes } = labelCounts(set);
  if (spikeKeys.includes(key)) return realSpikes === 0 ? 'no labelled run has a real spike, so the data cannot decide' : falseSpikes === 0 && sound === 0 ? 'no labelled run shows what is no spike, so the data cannot decide' : null;
  if (leaking + untold === 0) return 'no run is labelled truly leaking, so a value that lets leaks pass would not show';
  return sound === 0 ? 'no run is labelled truly sound, so a value that fails sound assemblies would not show' : null;
}

function more(set: LabelledSet, base: Thresholds | undefined): string[] {
  const { groups } = labelCounts(set);
  return [
    ...(set.runs.length === 0 ? ['No run is labelled: label some with dwellkeeper label, or put NAME.truth.json beside traces.'] : []),
    ...(groups === 1 ? ['All labelled runs are of one hose and plan: nothing shows that the values suit another.'] : []),
    ...(base === undefined && set.own.length > 1 ? [`The runs were judged by ${set.own.length} different sets of thresholds; each was changed from its own. Name one with --thresholds to begin from one.`] : []),
  ];
}
