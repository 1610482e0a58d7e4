import { worstVerdict, type Outcome, type Verdict } from '../core/outcome.js';
import { sameExcursion, type RunLabels } from '../records/run-labels.js';

/** How one judgement of a run does against what is known of it. */
export interface Marked {
  readonly verdict: Verdict;
  /** Real excursions that were told as spikes, and that were not. */
  readonly spikesTold: number;
  readonly spikesMissed: number;
  /** Excursions known not to be real that were told as spikes all the same, and that were not. */
  readonly falseSpikes: number;
  readonly falseAvoided: number;
}

/** Compares outcomes with labels. Without labels for spikes all their counts are 0. */
export function mark(outcomes: readonly Outcome[], labels: RunLabels): Marked {
  const spikes = outcomes.flatMap(({ events }) => events.filter(({ kind }) => kind === 'spike'));
  let [spikesTold, spikesMissed, falseSpikes, falseAvoided] = [0, 0, 0, 0];
  for (const { at, real } of labels.spikes) {
    const told = spikes.some((spike) => Math.abs(spike.at - at) <= Math.max(sameExcursion, spike.width ?? 0));
    if (real && told) spikesTold++;
    else if (real) spikesMissed++;
    else if (told) falseSpikes++;
    else falseAvoided++;
  }
  if (labels.complete) {
    falseSpikes += spikes.filter((spike) => !labels.spikes.some(({ at }) => Math.abs(spike.at - at) <= Math.max(sameExcursion, spike.width ?? 0))).length;
  }
  return { verdict: worstVerdict(outcomes.map(({ verdict }) => verdict)), spikesTold, spikesMissed, falseSpikes, falseAvoided };
}
