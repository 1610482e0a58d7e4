import { sentenceOnRunClock } from '../certificate/run-clock.js';
import type { Outcome } from '../core/outcome.js';
import type { AppendedEntry, Run } from '../records/store.js';
import { visualWords } from '../records/visual-finding.js';
import type { RunSummary } from '../server/bench-feed.js';

/** Sentences that decided a run, most telling first. A pass needs none; for all else there is at least one. */
export function reasonsOf(outcome: Outcome): string[] {
  if (outcome.verdict === 'pass') return [];
  const said = (wanted: 'broken' | 'undecided') => outcome.findings.filter((finding) => finding.outcome === wanted).map((finding) => finding.sentence);
  const reasons = outcome.verdict === 'fail' ? [...said('broken'), ...said('undecided')] : said('undecided');
  return reasons.length > 0 ? reasons : [outcome.notes[0] ?? 'nothing could be decided'];
}

/** What an outcome says about a run in a list; moments in its sentences count from its start, as on its record. */
export function shownOf(outcome: Outcome, { from, to }: { readonly from: number; readonly to: number }): Pick<RunSummary, 'verdict' | 'reasons' | 'peak' | 'holds' | 'events'> {
  const peaks = outcome.cycles.flatMap((cycle) => (cycle.peak === null ? [] : [cycle.peak]));
  return {
    verdict: outcome.verdict,
    reasons: reasonsOf(outcome).map((sentence) => sentenceOnRunClock(sentence, from, to)),
    peak: peaks.length === 0 ? null : Math.max(...peaks),
    holds: outcome.cycles.flatMap(({ settled, holdEnd }) => (settled === null || holdEnd === null ? [] : [{ from: settled, to: holdEnd }])),
    events: outcome.events,
  };
}

/** The newest visual finding as it reads on the record. */
export function visualOf(entries: readonly AppendedEntry[]): string | null {
  for (const { entry } of entries.toReversed()) {
    if (entry.kind === 'visual-finding') return visualWords(entry);
  }
  return null;
}

/** A recorded run as lists show it; `undefined` while it is open. */
export function summaryOf(run: Run, entries: readonly AppendedEntry[], session: string): RunSummary | undefined {
  if (run.outcome === null) return undefined;
  return {
    id: String(run.number),
    session,
    from: run.from,
    to: run.to ?? run.from,
    wall: run.fromWall,
    plan: run.planName,
    visual: visualOf(entries),
    ...shownOf(run.outcome, { from: run.from, to: run.to ?? run.from }),
  };
}
