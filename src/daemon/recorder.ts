import { basename } from 'node:path';
import type { AcquiredSample } from '../acquisition/acquire.js';
import type { Plan } from '../core/plan.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import type { FinishedRun } from '../core/run-reader.js';
import type { FoundEvent } from '../core/outcome.js';
import type { Instrument, Mark } from '../core/trace.js';
import type { Notice, Run, Store } from '../records/store.js';
import type { TraceWriter } from '../records/trace-writer.js';
import type { RunSummary, SampleBatch, Stretch, WallAnchor } from '../server/bench-feed.js';
import type { JudgingSetup } from './bench-setup.js';
import type { LeftOpen } from './left-open.js';
import type { Archive } from './live-feed.js';
import type { RecordedChannel } from './recorded-channels.js';
import { RunKeeper } from './run-keeper.js';
import { shownOf, summaryOf } from './run-summary.js';

export interface RecorderNews {
  /** A run is over; or one that had waited for the store is on record now. */
  listed(run: RunSummary): void;
  /** Why nothing can be written at present; `null` once everything is on the disk again. */
  trouble(sentence: string | null): void;
  /** The file was damaged or lost, and a new one begun; `runs` were going on in it. */
  replaced(notice: Notice, runs: readonly number[]): void;
}

export interface RecorderSetup {
  readonly store: Store;
  readonly bench: string;
  /** Names of the channels, with their ids in the store and how their readings become pressure. */
  readonly channels: ReadonlyMap<string, RecordedChannel>;
  /** Of the live feed: all sessions share the store's clock. */
  readonly session: string;
  readonly anchor: WallAnchor;
  readonly news: RecorderNews;
}

/**
 * Writes the samples and marks of all channels and the events and runs of the judged one into the store, and reads
 * finished runs back for the pages.
 * Nothing in here throws for a store that refuses: it is told by `news.trouble`, and each `tick` tries again.
 */
export class Recorder implements Archive {
  readonly keeper: RunKeeper;
  private readonly store: Store;
  private readonly writers = new Map<string, TraceWriter>();
  private judged: number;
  private refusal: string | null = null;
  private told: string | null = null;
  private lost = 0;
  /** What the store said when it last began a new file. */
  private known: Notice | null = null;

  constructor(private readonly setup: RecorderSetup) {
    const { store, channels, anchor } = setup;
    this.store = store;
    this.judged = [...channels.values()][0]?.id ?? 0;
    for (const [name, { id, conversion }] of channels) this.writers.set(name, store.beginSegment(id, anchor, conversion));
    this.keeper = new RunKeeper(store, (run) => this.recorded(run), (error) => this.refused(error));
  }

  /** Runs are judged by this channel from now on. */
  judgeBy(channel: string): void {
    this.judged = this.setup.channels.get(channel)?.id ?? this.judged;
  }

  /** A sample of a channel; `value` is the reading before scaling and calibration. */
  sample({ channel, time, pressure, flags, value }: AcquiredSample): void {
    this.writers.get(channel)?.append(time, pressure, flags, value);
  }

  /** A mark in the traces of these channels; without them in all. */
  mark(mark: Mark, channels: Iterable<string> = this.writers.keys()): void {
    for (const channel of channels) this.writers.get(channel)?.mark(mark);
  }

  /** The calendar was set or the machine slept: times from here on have another anchor. */
  segment(anchor: WallAnchor): void {
    try {
      for (const [name, { id, conversion }] of this.setup.channels) this.writers.set(name, this.store.beginSegment(id, anchor, conversion));
    } catch (error) {
      // The old writer goes on; only the calendar of what follows is off by the step, and the mark tells of it.
      this.refused(error);
    }
  }

  runStarted(from: number, judging: JudgingSetup, instrument: Instrument): void {
    const channel = this.judged;
    this.keeper.begin(channel, from, () => ({ channel, from, instrument, ...this.versions(judging) }));
  }

  /** A run that an earlier session left open on a channel goes on. */
  resume(channel: number, { number, from, judging, instrument }: LeftOpen): void {
    this.keeper.resume(channel, number, from, () => ({ channel, from, instrument, ...this.versions(judging) }));
  }

  event(event: FoundEvent): void {
    this.keeper.event(this.judged, event);
  }

  runEnded(run: FinishedRun, reading?: ReadingStretch): void {
    this.keeper.end(run, reading);
    const [waiting] = this.waiting();
    if (waiting !== undefined) this.setup.news.listed(waiting);
  }

  /** About twice a second, with the present time (s): commits what waits, tries again what was refused. */
  tick(now: number): void {
    this.store.tick(now);
    this.heedReplacement();
    if (this.keeper.retry()) this.refusal = null;
    const troubles = [...this.writers.values()].flatMap(({ trouble }) => trouble ?? []);
    const trouble = troubles.toSorted((a, b) => b.lost - a.lost)[0] ?? null;
    if (trouble !== null && trouble.lost > this.lost) this.keeper.lost(`${trouble.lost} samples could not be recorded (${trouble.sentence})`);
    this.lost = trouble?.lost ?? 0;
    const sentence = trouble?.sentence ?? this.refusal;
    if (sentence === this.told) return;
    this.told = sentence;
    this.setup.news.trouble(sentence);
  }

  private heedReplacement(): void {
    const notice = this.store.setAside;
    if (notice === null || notice === this.known) return;
    this.known = notice;
    const where = notice.code === 'file-lost' ? 'the file that was taken away' : basename(notice.file);
    const what = notice.code === 'file-lost' ? 'the file of the records was taken away' : 'the file of the records was found damaged';
    const runs = this.keeper.beginAgain((before) => `${what} while this run went on; it is run ${before} in ${where}, and its record here is not whole`);
    this.setup.news.replaced(notice, runs);
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
    if (!('run' in stretch)) return this.store.traceWindow(this.judged, stretch.from, stretch.to);
    const waiting = this.keeper.waitingRuns().find((_, i) => waitingId(i) === stretch.run);
    if (waiting) return this.store.traceWindow(waiting.channel, waiting.from, waiting.to);
    const number = Number(stretch.run);
    return Number.isSafeInteger(number) && this.store.getRun(number) ? this.store.traceOfRun(number) : undefined;
  }

  private waiting(): RunSummary[] {
    return this.keeper.waitingRuns().map(({ channel, from, to, plan, outcome }, i) => ({
      id: waitingId(i),
      session: this.setup.session,
      from,
      to,
      wall: this.store.wallOf(channel, from),
      plan,
      visual: null,
      ...shownOf(outcome, { from, to }),
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

const waitingId = (place: number): string => `waiting-${place + 1}`;
