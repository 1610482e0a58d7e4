import { holdDetail, type HoldDetail } from './hold-detail.js';
import { highest, nothingFound } from './judge.js';
import type { Outcome } from './outcome.js';
import type { Plan } from './plan.js';
import type { CycleRecord } from './reading/cycle-record.js';
import { RunReader } from './run-reader.js';
import type { Thresholds } from './thresholds.js';
import type { Instrument, Mark, Trace } from './trace.js';

/** A run of a trace: its outcome, and what was read of each hold. */
export interface RunInDetail {
  /** s on the trace's clock; `null` where the trace holds no run. */
  readonly from: number | null;
  readonly to: number | null;
  readonly outcome: Outcome;
  /** One a cycle. */
  readonly holds: readonly HoldDetail[];
}

/** What a trace is read by. */
export interface ReadingTerms {
  readonly plan: Plan | null;
  readonly thresholds: Thresholds;
  readonly instrument?: Instrument | undefined;
  /** True for a trace out of the store: without a plan, heights are then judged as the daemon did, not by the highest reading. */
  readonly recorded?: boolean;
}

/**
 * `judge`, a stretch at a time and with what it was read from, so that a page can show the reading and stay awake meanwhile.
 * The outcomes are those of `judge`, byte for byte: it is the same reader with the same samples.
 */
export class ReadingInDetail {
  private readonly reader: RunReader;
  private readonly marks: readonly Mark[];
  private readonly runs: RunInDetail[] = [];
  private cycles: { readonly records: readonly CycleRecord[]; readonly origin: number } = { records: [], origin: 0 };
  private next = 0;
  private nextMark = 0;
  private ended = false;

  constructor(private readonly trace: Trace, private readonly terms: ReadingTerms) {
    const { plan, thresholds, instrument, recorded } = terms;
    this.marks = trace.marks ?? [];
    this.reader = new RunReader(
      { plan, thresholds, ...(instrument && { instrument }), ...(plan === null && recorded !== true ? { usualPressure: highest(trace) } : {}) },
      {
        runStarted: () => undefined,
        found: () => undefined,
        cyclesRead: (records, origin) => {
          this.cycles = { records, origin };
        },
        runEnded: ({ from, to, outcome }) => this.runs.push({ from, to, outcome, holds: this.holdsOf(outcome) }),
      },
    );
  }

  /** 0 to 1. */
  get share(): number {
    return this.trace.time.length === 0 ? 1 : this.next / this.trace.time.length;
  }

  /** Reads `samples` more. @returns whether the whole trace is read */
  read(samples: number): boolean {
    const { time, pressure, flags } = this.trace;
    const end = Math.min(this.next + samples, time.length);
    for (; this.next < end; this.next++) {
      const at = time[this.next] as number;
      this.marksUpTo(at);
      this.reader.step(at, pressure[this.next] as number, flags === undefined ? 0 : (flags[this.next] as number));
    }
    if (this.next < time.length) return false;
    if (!this.ended) {
      while (this.nextMark < this.marks.length) this.reader.mark(this.marks[this.nextMark++] as Mark);
      this.reader.end();
      this.ended = true;
    }
    return true;
  }

  /** The runs found, at least one; call it when all is read. */
  get found(): readonly RunInDetail[] {
    if (this.runs.length > 0) return this.runs;
    const { plan, thresholds } = this.terms;
    return [{ from: null, to: null, outcome: nothingFound(this.reader, plan, thresholds), holds: [] }];
  }

  private marksUpTo(time: number): void {
    while (this.nextMark < this.marks.length && (this.marks[this.nextMark] as Mark).time <= time) this.reader.mark(this.marks[this.nextMark++] as Mark);
  }

  private holdsOf(outcome: Outcome): HoldDetail[] {
    const { records, origin } = this.cycles;
    return records.map((record, i) => holdDetail(record, origin, outcome.cycles[i]?.leak?.startedAt ?? null, outcome.signal.resolution ?? 0));
  }
}
