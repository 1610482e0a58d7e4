import type { Outcome } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import { RunReader } from '../core/run-reader.js';
import type { Thresholds } from '../core/thresholds.js';
import type { Instrument, Mark } from '../core/trace.js';
import { canonicalJson } from './canonical-json.js';
import type { Samples } from './block-codec.js';
import { notRecorded } from './not-recorded.js';

/** All that a run was judged by, as its record keeps it. */
export interface Judged {
  /** s: first rise of the run, which tells it from others in the same stretch. */
  readonly from: number;
  readonly reading: ReadingStretch;
  readonly plan: Plan | null;
  readonly thresholds: Thresholds;
  readonly instrument: Instrument | null;
  /** Of the whole stretch, by time. */
  readonly marks: readonly Mark[];
  readonly outcome: Outcome;
}

/** How the run comes out when its trace is read again. */
export type Again =
  | { readonly is: 'same' }
  /** `outcome` is `null` where no run is found any more. */
  | { readonly is: 'different'; readonly outcome: Outcome | null; readonly parts: readonly string[] };

/**
 * Reads the trace of a run again, with what it was judged by, and compares the outcomes byte for byte. An outcome that
 * was made stricter because its record is not whole is the same when what it says beyond that is the same.
 * @param pieces the samples of the stretch in the order received
 */
export function judgeAgain(judged: Judged, pieces: Iterable<Samples>): Again {
  const outcome = outcomeAgain(judged, pieces);
  if (outcome === null) return { is: 'different', outcome, parts: ['run'] };
  const recorded = judged.outcome;
  if (canonicalJson(outcome) === canonicalJson(recorded)) return { is: 'same' };
  const reason = recorded.findings.at(-1);
  if (reason?.rule === 'data' && canonicalJson(notRecorded(outcome, reason.sentence)) === canonicalJson(recorded)) return { is: 'same' };
  const [now, then] = [outcome, recorded] as const;
  const keys = Object.keys(outcome) as (keyof Outcome)[];
  return { is: 'different', outcome, parts: keys.filter((key) => canonicalJson(now[key]) !== canonicalJson(then[key])) };
}

function outcomeAgain({ from, reading, plan, thresholds, instrument, marks }: Judged, pieces: Iterable<Samples>): Outcome | null {
  let found: Outcome | null = null;
  const reader = new RunReader(
    { plan, thresholds, ...(instrument && { instrument }) },
    {
      runStarted: () => undefined,
      found: () => undefined,
      runEnded: (run) => {
        if (run.from === from) found = run.outcome;
      },
    },
  );
  if (reading.lid !== null) reader.mark({ time: reading.from, kind: reading.lid === 'open' ? 'lid-open' : 'lid-closed' });
  // The order in which the bench was read: a mark comes before the first sample that is not earlier.
  let next = 0;
  const marksUpTo = (time: number): void => {
    for (let mark = marks[next]; mark !== undefined && mark.time <= time; mark = marks[++next]) reader.mark(mark);
  };
  for (const { time, pressure, flags } of pieces) {
    for (let i = 0; i < time.length; i++) {
      const at = time[i] ?? NaN;
      marksUpTo(at);
      reader.step(at, pressure[i] ?? NaN, flags[i] ?? 0);
    }
  }
  marksUpTo(Infinity);
  return found;
}
