import type { Finding, Outcome, Rule, RuleOutcome, Verdict } from '../core/outcome.js';
import { worstVerdict } from '../core/outcome.js';
import { decisiveOutcome } from './judging.js';

/** What a change means for whoever relies on the verdicts, the gravest first. */
export const concerns = ['new pass', 'new fail', 'no longer decided', 'findings', 'figures', 'none'] as const;
export type Concern = (typeof concerns)[number];

/** What a run came to, in short. Times in s on the trace's own clock, pressures in bar, leak in bar/min. */
export interface Told {
  readonly verdict: Verdict;
  /** Runs found in the recording; normally 1. */
  readonly runs: number;
  /** The finding that decides; `null` where every rule is met or no run is found. */
  readonly because: { readonly rule: Rule; readonly outcome: RuleOutcome; readonly sentence: string } | null;
  readonly settled: number | null;
  readonly holdEnd: number | null;
  readonly peak: number | null;
  readonly drop: number | null;
  readonly leak: { readonly rate: number; readonly standardError: number } | null;
  readonly spikes: number;
  readonly glitches: number;
}

/** One rule that comes out otherwise; `null` where it was not applied. */
export interface FindingChange {
  readonly rule: Rule;
  /** From 1. */
  readonly cycle: number;
  readonly before: RuleOutcome | null;
  readonly after: RuleOutcome | null;
  readonly measured: { readonly before: number | null; readonly after: number | null };
  readonly limit: { readonly before: number | null; readonly after: number | null };
  readonly unit: string;
  /** As it is now, or as it was where the rule no longer applies. */
  readonly sentence: string;
}

/** How one run comes out otherwise. */
export interface RunChange {
  readonly concern: Concern;
  readonly before: Told;
  readonly after: Told;
  /** Rules whose outcome changes. */
  readonly findings: readonly FindingChange[];
}

/** Compares two judgements of the same recording. Pure: pages use it on the trace they show. */
export function runChange(before: readonly Outcome[], after: readonly Outcome[]): RunChange {
  const [was, is] = [told(before), told(after)];
  const findings = findingChanges(decisiveOutcome(before), decisiveOutcome(after));
  const concern: Concern =
    was.verdict !== is.verdict
      ? is.verdict === 'pass' ? 'new pass' : is.verdict === 'fail' ? 'new fail' : 'no longer decided'
      : findings.length > 0 ? 'findings' : JSON.stringify(before) === JSON.stringify(after) || sameFigures(was, is) ? 'none' : 'figures';
  return { concern, before: was, after: is, findings };
}

/** Decided or not, a run that passes where it failed before matters more than one that was undecided. */
export const gravity = ({ concern, before }: Pick<RunChange, 'concern' | 'before'>): number =>
  2 * concerns.indexOf(concern) + (before.verdict === 'inconclusive' ? 1 : 0);

/** What the outcomes of one recording come to. */
export function told(outcomes: readonly Outcome[]): Told {
  const outcome = decisiveOutcome(outcomes);
  const cycle = outcome?.cycles[0];
  const decides = outcome?.findings.find((finding) => finding.outcome === (outcome.verdict === 'fail' ? 'broken' : 'undecided'));
  const count = (kind: string) => outcomes.reduce((sum, { events }) => sum + events.filter((event) => event.kind === kind).length, 0);
  return {
    verdict: worstVerdict(outcomes.map(({ verdict }) => verdict)),
    runs: outcomes.length,
    because: decides === undefined || outcome?.verdict === 'pass' ? null : { rule: decides.rule, outcome: decides.outcome, sentence: decides.sentence },
    settled: cycle?.settled ?? null,
    holdEnd: cycle?.holdEnd ?? null,
    peak: cycle?.peak ?? null,
    drop: cycle?.drop ?? null,
    leak: cycle?.leak ? { rate: cycle.leak.rate, standardError: cycle.leak.standardError } : null,
    spikes: count('spike'),
    glitches: count('glitch'),
  };
}

const sameFigures = (a: Told, b: Told): boolean => JSON.stringify(a) === JSON.stringify(b);

function findingChanges(before: Outcome | null, after: Outcome | null): FindingChange[] {
  const [was, is] = [byRule(before), byRule(after)];
  return [...new Set([...was.keys(), ...is.keys()])].flatMap((key): FindingChange[] => {
    const [old, now] = [was.get(key), is.get(key)];
    const shown = now ?? old;
    if (shown === undefined || old?.outcome === now?.outcome) return [];
    return [{
      rule: shown.rule, cycle: shown.cycle ?? 1, before: old?.outcome ?? null, after: now?.outcome ?? null,
      measured: { before: old?.measured ?? null, after: now?.measured ?? null },
      limit: { before: old?.limit ?? null, after: now?.limit ?? null },
      unit: shown.unit, sentence: shown.sentence,
    }];
  });
}

/** The findings under rule and cycle; of several under the same, the worst. */
function byRule(outcome: Outcome | null): Map<string, Finding> {
  const order: readonly RuleOutcome[] = ['met', 'undecided', 'broken'];
  const found = new Map<string, Finding>();
  for (const finding of outcome?.findings ?? []) {
    const key = `${finding.rule} ${finding.cycle ?? 1}`;
    const other = found.get(key);
    if (other === undefined || order.indexOf(finding.outcome) > order.indexOf(other.outcome)) found.set(key, finding);
  }
  return found;
}
