import type { Outcome } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import type { Thresholds } from '../core/thresholds.js';
import type { Instrument, Mark } from '../core/trace.js';
import type { Samples } from './block-codec.js';
import { judgeAgain } from './judge-again.js';

/** What judging a run again says: the same, a breach, or something to know. */
export type RunAgain = { readonly is: 'same' } | { readonly is: 'different' | 'remark'; readonly sentence: string };

/** A run as its record has it. */
export interface RecordedRun {
  readonly number: number;
  readonly software: string;
  readonly from: number;
  readonly reading: ReadingStretch | null;
  readonly plan: unknown;
  readonly thresholds: unknown;
  readonly instrument: Instrument | null;
  readonly outcome: Outcome;
}

/**
 * Judges a recorded run again and says what came of it. Another version of the program may judge otherwise without
 * anybody having changed anything: that is a remark.
 * @param trace marks and samples of the stretch that was read
 */
export function tellAgain(
  { number, software, from, reading, plan, thresholds, instrument, outcome }: RecordedRun,
  present: string,
  trace: (stretch: ReadingStretch) => { marks: readonly Mark[]; pieces: Iterable<Samples> },
): RunAgain {
  if (reading === null) return { is: 'remark', sentence: `run ${number} was not judged again: its record does not say where reading began` };
  try {
    const { marks, pieces } = trace(reading);
    const again = judgeAgain({ from, reading, plan: plan as Plan | null, thresholds: thresholds as Thresholds, instrument, marks, outcome }, pieces);
    if (again.is === 'same') return again;
    const otherwise = again.outcome === null ? 'no run is found' : again.outcome.verdict === outcome.verdict ? `${again.parts.join(', ')} come out otherwise` : `the verdict is ${again.outcome.verdict}, on record is ${outcome.verdict}`;
    const sentence = `run ${number}: judged again from its trace, ${otherwise}`;
    return present === software ? { is: 'different', sentence } : { is: 'remark', sentence: `${sentence} (recorded by ${software}, judged again by ${present})` };
  } catch (error) {
    return { is: 'different', sentence: `run ${number}: cannot be judged again (${error instanceof Error ? error.message : String(error)})` };
  }
}
