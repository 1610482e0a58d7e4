import { verdictOf, type Finding, type Outcome } from '../outcome.js';

/**
 * The outcome of a run whose trace is not whole on record: what failed stays failed, all else is inconclusive, and the
 * finding on the data says why. Nobody could prove a pass by that record.
 */
export function notRecorded(outcome: Outcome, sentence: string): Outcome {
  const undecided: Finding = { rule: 'data', outcome: 'undecided', measured: null, limit: null, unit: '', uncertainty: null, at: null, sentence };
  const others = outcome.findings.filter((finding) => finding.rule !== 'data' || finding.outcome !== 'met');
  const findings = [...others, undecided];
  const verdict = outcome.verdict === 'fail' ? 'fail' : verdictOf(findings.map((finding) => finding.outcome));
  return { ...outcome, verdict, findings };
}
