import type { FoundEvent } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import { standardThresholds, type Thresholds } from '../core/thresholds.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import type { Instrument } from '../core/trace.js';
import type { TraceEntry } from '../operators/run-news.js';
import type { RecordedTrace, Store } from '../records/store.js';
import type { JudgingSetup } from './bench-setup.js';

/** s: the first rise is found again at the same moment but for the little that the reader had seen before it. */
const sameStart = 5;

/** A run that was going on when an earlier session ended. */
export interface LeftOpen {
  readonly number: number;
  /** s */ readonly from: number;
  readonly judging: JudgingSetup;
  readonly instrument: Instrument | null;
  /** The lid contact as it was known where the entries begin. */
  readonly lid: ReadingStretch['lid'];
  /** What was stored of it and shortly before, in order. */
  readonly entries: readonly TraceEntry[];
  /** Whether a start found while reading again is the start of this run. */
  knowsStart(at: number): boolean;
  /** Whether an event found while reading again is stored already, or lies before this run. */
  knows(event: FoundEvent): boolean;
}

/** The open run of a channel with all that is needed to go on with it; `null` when there is none. */
export function openRunOf(store: Store, channel: number): LeftOpen | null {
  const open = store.resumeOpenRun(channel);
  if (open === null) return null;
  const { run, trace } = open;
  // The tail of the run before it must not be taken for a run of its own.
  const previous = store.listRuns({ before: run.number, limit: 20, bench: run.bench }).find((other) => other.channel === channel);
  const stored = new Set(store.eventsOf(run.number).map(({ event }) => identity(event)));
  const entries = entriesOf(trace, Math.min(previous?.to ?? -Infinity, run.from));
  return {
    number: run.number,
    from: run.from,
    instrument: run.instrument,
    judging: {
      plan: run.plan === null ? null : { value: store.versions.get(run.plan)?.content as Plan, text: store.versions.get(run.plan)?.source ?? null },
      thresholds: { value: (store.versions.get(run.thresholds)?.content ?? standardThresholds) as Thresholds, text: store.versions.get(run.thresholds)?.source ?? null },
    },
    entries,
    lid: store.traces.lidBefore(channel, entries[0]?.time ?? run.from),
    knowsStart: (at) => at <= run.from + sameStart,
    knows: (event) => event.at < run.from - sameStart || stored.has(identity(event)),
  };
}

const identity = ({ kind, at }: FoundEvent) => `${kind} ${at.toFixed(3)}`;

/** Samples and marks after `after` (s) by the rule of `judge`: a mark comes before the first sample that is not earlier. */
function entriesOf(trace: RecordedTrace, after: number): TraceEntry[] {
  const entries: TraceEntry[] = [];
  const marks = trace.marks.filter((mark) => mark.time > after);
  let next = 0;
  trace.time.forEach((time, i) => {
    if (time <= after) return;
    for (let mark = marks[next]; mark !== undefined && mark.time <= time; mark = marks[++next]) entries.push(mark);
    entries.push({ time, pressure: trace.pressure[i] ?? NaN, flags: trace.flags[i] ?? 0 });
  });
  return [...entries, ...marks.slice(next)];
}
