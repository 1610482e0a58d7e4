import type { Plan } from '../core/plan.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import type { FinishedRun } from '../core/run-reader.js';
import type { FoundEvent } from '../core/outcome.js';
import type { Instrument, Mark, Sample } from '../core/trace.js';
import type { Run, Store } from '../records/store.js';
import type { RunSummary, SampleBatch, Stretch, WallAnchor } from '../server/bench-feed.js';
import type { JudgingSetup } from './bench-setup.js';
import type { Archive } from './live-feed.js';
import { RunKeeper } from './run-keeper.js';
import { shownOf, summaryOf } from './run-summary.js';

export interface RecorderNews {
  /** A run is over; or one that had waited for the store is on record now. */
  listed(run: RunSummary): void;
  /** Why nothing can be written at present; `null` once everything is on the disk again. */
  trouble(sentence: string | null): void;
}

export interface RecorderSetup {
  readonly store: Store;
  readonly bench: string;
  /** Id of the channel in the store. */
  readonly channel: number;
  /** Of the live feed: all sessions share the store's clock. */
  readonly session: string;
  readonly anchor: WallAnchor;
  readonly news: RecorderNews;
}

/**
 * Writes one channel's samples, marks, events and runs into the store and reads finished runs back for the pages.
 * Nothing in here throws for a store that refuses: it is told by `news.trouble`, and each `tick` tries again.
 */
export class Recorder implements Archive {
  readonly keeper: RunKeeper;
  private readonly channel: number;
  private readonly store: Store;
  private writer;
  private refusal: string | null = null;
  private told: string | null = null;
  private lost = 0;

  constructor(private readonly setup: RecorderSetup) {
    const { store, channel, anchor } = setup;
    this.store = store;
    this.channel = channel;
    this.writer = store.beginSegment(this.channel, anchor);
    this.keeper = new RunKeeper(store, this.channel, (run) => this.recorded(run), (error) => this.refused(error));
  }

  sample({ time, pressure, flags }: Sample): void {
    this.writer.append(time, pressure, flags);
  }

  mark(mark: Mark): void {
    this.writer.mark(mark);
  }

  /** The calendar was set or the machine slept: times from here on have another anchor. */
  segment(anchor: WallAnchor): void {
    try {
      this.writer = this.store.beginSegment(this.channel, anchor);
    } catch (error) {
      // The old writer goes on; only the calendar of what follows is off by the step, and the mark tells of it.
      this.refused(error);
    }
  }

  runStarted(from: number, judging: JudgingSetup, instrument: Instrument): void {
    this.keeper.begin(from, () => ({ channel: this.channel, from, instrument, ...this.versions(judging) }));
  }

  event(event: FoundEvent): void {
    this.keeper.event(event);
  }

  runEnded(run: FinishedRun, reading?: ReadingStretch): void {
    this.keeper.end(run, reading);
    const [waiting] = this.waiting();
    if (waiting !== undefined) this.setup.news.listed(waiting);
  }

  /** About twice a second, with the present time (s): commits what waits, tries again what was refused. */
  tick(now: number): void {
    this.store.tick(now);
    if (this.keeper.retry()) this.refusal = null;
    const { trouble } = this.writer;
    if (trouble !== null && trouble.lost > this.lost) this.keeper.lost(`${trouble.lost} samples could not be recorded (${trouble.sentence})`);
    this.lost = trouble?.lost ?? 0;
    const sentence = trouble?.sentence ?? this.refusal;
    if (sentence === this.told) return;
    this.told = sentence;
    this.setup.news.trouble(sentence);
  }

  /** Commits everything. @returns whether all is safe on the disk */
  flush(): boolean {
    return this.store.flush() && this.keeper.retry();
  }

  recentRuns(limit: number): readonly RunSummary[] {
    const { bench, session } = this.setup;
    const stored = this.store.listRuns({ limit, bench }).flatMap(({ number }) => {
      const run = this.store.getRun(number);
      return (run && summaryOf(run, this.store.entriesOf(number), session)) ?? [];
    });
    return [...this.waiting(), ...stored].slice(0, limit);
  }

  samples(stretch: Stretch): Pick<SampleBatch, 'time' | 'pressure'> | undefined {
    if (!('run' in stretch)) return this.store.traceWindow(this.channel, stretch.from, stretch.to);
    const waiting = this.waiting().find((run) => run.id === stretch.run);
    if (waiting) return this.store.traceWindow(this.channel, waiting.from, waiting.to);
    const number = Number(stretch.run);
    return Number.isSafeInteger(number) && this.store.getRun(number) ? this.store.traceOfRun(number) : undefined;
  }

  private waiting(): RunSummary[] {
    return this.keeper.waitingRuns().map(({ from, to, plan, outcome }, i) => ({
      id: `waiting-${i + 1}`,
      session: this.setup.session,
      from,
      to,
      wall: this.store.wallOf(this.channel, from),
      plan,
      visual: null,
      ...shownOf(outcome),
    }));
  }

  /** The plan and thresholds as they are in force, kept by their content. */
  private versions({ plan, thresholds }: JudgingSetup): { plan: string | null; thresholds: string } {
    return {
      plan: plan === null ? null : this.store.keepVersion('plan', plan.value satisfies Plan, plan.text ?? undefined),
      thresholds: this.store.keepVersion('thresholds', thresholds.value, thresholds.text ?? undefined),
    };
  }

  private recorded(run: Run): void {
    const summary = summaryOf(run, [], this.setup.session);
    if (summary !== undefined) this.setup.news.listed(summary);
  }

  private refused(error: unknown): void {
    this.refusal = `the store cannot be written (${error instanceof Error ? error.message : String(error)})`;
  }
}
