import type { FoundEvent, Outcome } from '../core/outcome.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import type { FinishedRun } from '../core/run-reader.js';
import type { Run, RunStart, Store } from '../records/store.js';
import { outcomeOfAbandoned } from './outcome-of-abandoned.js';
import { notRecorded } from '../records/not-recorded.js';

/** A run on its way into the store. */
interface KeptRun {
  /** Id of the channel that it is judged by. */
  readonly channel: number;
  /** s */ readonly from: number;
  /** `null` until the store has taken it. */
  number: number | null;
  /** What it begins with in the store, again at each attempt. */
  readonly start: () => RunStart;
  /** It was open when an earlier session ended. */
  readonly resumed: boolean;
  /** It began in a file that was replaced: in the present one its trace has no beginning that it could be judged from again. */
  moved: boolean;
  ended: FinishedRun | null;
  /** Why its trace is not whole on record. */
  missing: string | null;
}

/** One step on the way of a run into the store. */
interface Write {
  readonly run: KeptRun | null;
  /** Throws when the store refuses. What it returns is done once nothing waits in its place any more. */
  readonly write: () => (() => void) | void;
}

/** A run that is over and that the store has not taken yet. */
export interface WaitingRun {
  readonly channel: number;
  readonly from: number;
  readonly to: number;
  readonly plan: string | null;
  readonly outcome: Outcome;
}

/** Writes that may wait while the disk refuses; beyond that, events are given up and counted. */
const waitingAtMost = 20_000;

/**
 * Brings runs and events into the store in the order of their finding. When the store refuses, they wait here and
 * every `retry` tries again: judging and showing go on meanwhile.
 */
export class RunKeeper {
  private readonly waiting: Write[] = [];
  private current: KeptRun | null = null;
  /** Events given up because too many waited. */
  givenUp = 0;

  constructor(
    private readonly store: Store,
    /** A run is over and safe on the disk. */
    private readonly recorded: (run: Run) => void,
    /** The store refused a write. */
    private readonly refused: (error: unknown) => void,
  ) {}

  /** Number of the open run, or `null`. */
  get openRun(): number | null {
    return this.current?.number ?? null;
  }

  /** True while something is not on the disk that should be. */
  get isBehind(): boolean {
    return this.waiting.length > 0;
  }

  /** Runs that are over and wait for the store, newest first, as they would be recorded. */
  waitingRuns(): WaitingRun[] {
    const over = new Set(this.waiting.flatMap(({ run }) => (run?.ended ? [run] : [])));
    return [...over].reverse().flatMap(({ channel, from, ended }) =>
      ended ? [{ channel, from, to: ended.to, plan: ended.outcome.plan, outcome: notRecorded(ended.outcome, 'this run is not on record yet: the store cannot be written') }] : [],
    );
  }

  /** A run has begun at `from` (s) on a channel; `start` says the rest, again at each attempt. */
  begin(channel: number, from: number, start: () => RunStart): void {
    this.abandon(from);
    const run: KeptRun = { channel, from, start, number: null, resumed: false, moved: false, ended: null, missing: null };
    this.current = run;
    this.put(run, () => {
      run.number = this.store.openRun(start());
    });
  }

  /** The run `number`, left open by an earlier session, goes on. */
  resume(channel: number, number: number, from: number, start: () => RunStart): void {
    this.current = { channel, from, start, number, resumed: true, moved: false, ended: null, missing: null };
  }

  /**
   * The store has begun a new file: runs that were open in the one before begin in it again, with what was said of them,
   * and cannot pass any more.
   * @returns their numbers in the file before
   */
  beginAgain(sentence: (before: number) => string): number[] {
    const cut = new Set([...this.waiting.map(({ run }) => run), this.current].flatMap((run) => (run === null || run.number === null ? [] : [run])));
    return [...cut].map((run) => {
      const before = run.number ?? 0;
      run.number = null;
      run.moved = true;
      run.missing ??= sentence(before);
      const write = () => {
        run.number ??= this.store.openRun(run.start());
        for (const { entry, who, why } of this.store.saidBefore(before)) this.store.addEntry(run.number, entry, who, why ?? undefined);
      };
      const place = this.waiting.findIndex((other) => other.run === run);
      this.waiting.splice(place < 0 ? this.waiting.length : place, 0, { run, write });
      return before;
    });
  }

  /**
   * Closes a run whose end nobody can tell, if there is one: reading what was stored of it did not find it again.
   * @param at s, up to where the trace is taken for its own
   */
  abandon(at: number): void {
    const run = this.current;
    this.current = null;
    if (run === null) return;
    this.put(run, () => {
      if (run.number === null) return;
      const kept = this.store.getRun(run.number);
      if (kept === null || kept.state !== 'open') return;
      const closed = this.store.interruptRun(run.number, { to: Math.max(run.from, at), outcome: outcomeOfAbandoned(this.store, kept) });
      return () => this.recorded(closed);
    });
  }

  event(channel: number, event: FoundEvent): void {
    if (this.waiting.length >= waitingAtMost) {
      this.givenUp++;
      return;
    }
    const run = this.current;
    this.put(run, () => this.store.addEvents(channel, [event], run?.number ?? null));
  }

  /** The run is over; `reading` is what was read to judge it. */
  end(ended: FinishedRun, reading?: ReadingStretch): void {
    const run = this.current;
    this.current = null;
    if (run === null) return;
    run.ended = ended;
    this.put(run, () => {
      if (run.number === null) throw new Error('the run was never opened');
      const outcome = run.resumed ? neverPassed(ended.outcome, run.missing) : run.missing === null ? ended.outcome : notRecorded(ended.outcome, run.missing);
      const end = { from: ended.from, to: ended.to, outcome, ...(reading && !run.moved && { reading }) };
      const closed = run.resumed ? this.store.interruptRun(run.number, end) : this.store.finishRun(run.number, end);
      return () => this.recorded(closed);
    });
  }

  /** Samples are lost for good: no run that is open or waits for the store can pass any more. */
  lost(sentence: string): void {
    for (const run of [this.current, ...this.waiting.map(({ run }) => run)]) if (run !== null) run.missing ??= sentence;
  }

  /** Tries to write what waits. @returns whether nothing waits any more. */
  retry(): boolean {
    for (let first = this.waiting[0]; first !== undefined; first = this.waiting[0]) {
      let done: (() => void) | void;
      try {
        done = first.write();
      } catch (error) {
        this.refused(error);
        return false;
      }
      this.waiting.shift();
      done?.();
    }
    return true;
  }

  private put(run: KeptRun | null, write: Write['write']): void {
    this.waiting.push({ write, run });
    if (this.waiting.length === 1) this.retry();
  }
}

/** A run that nobody watched from end to end. The gap in its trace says so already; this is the last line of defence. */
function neverPassed(outcome: Outcome, missing: string | null): Outcome {
  if (missing !== null) return notRecorded(outcome, missing);
  return outcome.verdict === 'pass' ? notRecorded(outcome, 'the program was not running during a part of this run') : outcome;
}
