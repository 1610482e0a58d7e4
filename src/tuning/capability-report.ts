import { median } from '../core/fit/statistics.js';
import { holdFor, smallestLeak, type HoldConditions, type Surety } from './capability.js';
import type { HoldSeen } from './hold-seen.js';
import type { Candidate } from './judging.js';
import type { LibraryAddress } from './run-library.js';
import { workThrough, type WorkOptions } from './work-through.js';

export interface CapabilityQuestion extends Surety {
  /** bar/min */ readonly leakLimit?: number;
  /** s */ readonly hold?: number;
  /** bar, noise of a reading, in the place of what the holds show. */
  readonly noise?: number;
  /** Readings a second, likewise; neighbouring readings then count as independent. */
  readonly rate?: number;
}

export interface CapabilityRow {
  /** s */ readonly hold: number;
  /** bar/min: the smallest leak that is told from settling, by the bound and as fits do in practice. */
  readonly bound: number;
  readonly practice: number;
}

export interface CapabilityReport {
  /** Holds that were measured. */
  readonly holds: number;
  readonly conditions: HoldConditions;
  /** How many times the bound the fits of these holds come to, half of them less; 1 where none was measured. */
  readonly overBound: number;
  /** bar/min of the leak rate after a hold as long as the middle one seen, that a settling too slow to be seen may be: one standard error. */
  readonly hidden: number;
  readonly rows: readonly CapabilityRow[];
  readonly asked: {
    readonly hold: CapabilityRow | null;
    /** `needs` s: the hold that shows a leak limit (bar/min) to be kept; `null` where no hold of a day does. */
    readonly limit: { readonly leakLimit: number; readonly needs: number | null } | null;
  };
  readonly assumptions: readonly string[];
  readonly problems: readonly string[];
}

const holds = [5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 300, 600] as const;

/** Measures the holds of a library. @throws InputError */
export async function holdsOf(address: LibraryAddress, candidate: Candidate, options: WorkOptions & { readonly progress?: (done: number, total: number) => void } = {}): Promise<{ seen: HoldSeen[]; problems: string[] }> {
  const seen: HoldSeen[] = [];
  const problems: string[] = [];
  for await (const { done, total, run } of workThrough(address, { kind: 'holds', candidate }, options)) {
    options.progress?.(done, total);
    if ('problem' in run) problems.push(run.problem);
    if ('result' in run) seen.push(...run.result.holds);
  }
  return { seen, problems };
}

/** The middle of what the holds show; `null` without any. */
export function usualConditions(seen: readonly HoldSeen[]): HoldConditions | null {
  if (seen.length === 0) return null;
  const middle = (pick: (hold: HoldSeen) => number) => median(seen.map(pick));
  return {
    sigma: middle(({ conditions }) => conditions.sigma), rho: middle(({ conditions }) => conditions.rho), rate: middle(({ conditions }) => conditions.rate),
    settling: middle(({ conditions }) => Math.abs(conditions.settling)) || 1, timeConstant: middle(({ conditions }) => conditions.timeConstant), lead: middle(({ conditions }) => conditions.lead ?? 0),
  };
}

/** What holds of other lengths can tell, under the conditions of those seen. Pure. */
export function capabilityReport(seen: readonly HoldSeen[], conditions: HoldConditions, question: CapabilityQuestion = {}, problems: readonly string[] = []): CapabilityReport {
  const { leakLimit, hold } = question;
  const overBound = seen.length === 0 ? 1 : Math.max(1, median(seen.map((one) => one.overBound)));
  // Practice is worse than the bound by a factor: the same as a hold with so much more noise.
  const slow = { error: seen.length === 0 ? 0 : median(seen.map(({ slow: { error, span } }) => error * span)), span: 1 };
  const worse = { ...conditions, sigma: overBound * conditions.sigma, slow };
  const row = (time: number): CapabilityRow => ({ hold: time, bound: smallestLeak(time, conditions, question), practice: smallestLeak(time, worse, question) });
  return {
    holds: seen.length, conditions, overBound,
    hidden: seen.length === 0 ? 0 : slow.error / (median(seen.map((one) => one.hold)) + (conditions.lead ?? 0)),
    rows: holds.map(row).filter(({ bound }) => Number.isFinite(bound)),
    asked: {
      hold: hold === undefined ? null : row(hold),
      limit: leakLimit === undefined ? null : { leakLimit, needs: holdFor(leakLimit, worse, question) },
    },
    assumptions: assumptionsOf(seen, conditions, question), problems,
  };
}

function assumptionsOf(seen: readonly HoldSeen[], { timeConstant, lead = 0, rho }: HoldConditions, { falseAlarm = 0.025, missed = 0.05 }: Surety): string[] {
  const guessed = seen.filter(({ settlingSeen }) => !settlingSeen).length;
  return [
    `Settling is one exponential of ${timeConstant.toFixed(1)} s beside a steady leak, all four of their figures unknown; where more was seen, 'in practice' counts a slower one that may hide, and lets it fall as 1/time.`,
    `The noise is normal, with a correlation of ${rho.toFixed(2)} from one average to the next, and stays so over a longer hold; slow drift of the transducer is not in it.`,
    `${lead.toFixed(0)} s of settling before the hold are read, too.`,
    `A tight assembly seems to leak in ${100 * falseAlarm} % of holds, a leak of the size told is missed in ${100 * missed} %.`,
    ...(guessed > 0 ? [`In ${guessed} of ${seen.length} holds no settling stood out; its time constant was then taken as a tenth of what was read.`] : []),
  ];
}
