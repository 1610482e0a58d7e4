import type { Verdict } from '../core/outcome.js';
import { visualWords, type VisualFinding } from './visual-finding.js';

/** `retest alone`: something on the manifold failed, and the pressure does not tell which assembly it was. */
export type AssemblyVerdict = Verdict | 'retest alone';

/** What a run came to for one assembly. */
export interface AssemblyResult {
  /** `null` where the job names no assembly. */
  readonly serial: string | null;
  readonly result: AssemblyVerdict;
  /** Why, where the verdict of the pressure alone does not say it. */
  readonly reason: string | null;
  /** Where a person saw it leak; `null` where nobody saw this one leak. */
  readonly leak: string | null;
}

type Seen = Omit<VisualFinding, 'kind'>;

/**
 * The result of each assembly of a run: what the pressure showed, and what a person saw. Leakage that was seen makes an
 * assembly fail whatever the pressure showed; a manifold that failed as a whole sends each to a test of its own.
 */
export function assemblyResults(verdict: Verdict, assemblies: readonly string[], seen: Seen | null): AssemblyResult[] {
  const serials: readonly (string | null)[] = assemblies.length === 0 ? [null] : assemblies;
  const leaking = seen?.finding === 'leakage seen' ? seen : null;
  const leakOf = (serial: string | null) => leaking?.leaks?.find((leak) => serial !== null && same(leak.assembly, serial));
  const unclear = leaking !== null && isUnclear(leaking, assemblies);
  const alone = serials.length === 1;
  return serials.map((serial): AssemblyResult => {
    const leak = leakOf(serial);
    if (leak !== undefined) return { serial, result: 'fail', reason: 'leakage was seen', leak: leak.at ?? '' };
    if (leaking !== null && unclear) {
      const reason = `${visualWords(leaking)}${alone ? '' : '; which assembly it was is not said'}`;
      return alone ? { serial, result: 'fail', reason, leak: leaking.at ?? '' } : { serial, result: 'retest alone', reason, leak: null };
    }
    if (verdict === 'fail' && !alone) {
      return { serial, result: 'retest alone', reason: `${serials.length} assemblies shared the pressure; it does not tell which of them failed`, leak: null };
    }
    return { serial, result: verdict, reason: null, leak: null };
  });
}

/** The whole run in one word: the worst of its assemblies. */
export function runResult(results: readonly AssemblyResult[]): Verdict {
  if (results.some(({ result }) => result === 'fail' || result === 'retest alone')) return 'fail';
  return results.length > 0 && results.every(({ result }) => result === 'pass') ? 'pass' : 'inconclusive';
}

/** Leakage at a place that belongs to no assembly of the run. */
function isUnclear({ at, leaks = [] }: Seen, assemblies: readonly string[]): boolean {
  const strange = leaks.some((leak) => !assemblies.some((serial) => same(leak.assembly, serial)));
  return leaks.length === 0 || strange || (at !== undefined && at !== '');
}

export const same = (a: string, b: string): boolean => a.trim().toLowerCase() === b.trim().toLowerCase();
