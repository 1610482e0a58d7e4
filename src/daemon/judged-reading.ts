import { Subject, Subscription } from 'rxjs';
import type { AcquiredSample } from '../acquisition/acquire.js';
import type { Channel } from '../acquisition/channel-config.js';
import type { Instrument } from '../core/trace.js';
import { relayRuns } from '../operators/relay-runs.js';
import type { RunNews, TraceEntry } from '../operators/run-news.js';
import type { JudgingSetup } from './bench-setup.js';
import { instrumentOf } from './instrument.js';
import type { FeedState } from './live-feed.js';
import type { RangeWatch } from './range-watch.js';
import { calibrationTurned, readerSetupOf, shownSetupOf, termsOf, type ReaderTerms } from './reader-terms.js';

export interface JudgedReadingSetup {
  readonly channels: readonly Channel[];
  /** What the pages are told: whether a run is going on and what it is judged by are kept up to date here. */
  readonly state: Pick<FeedState, 'runSince' | 'setup'> & Readonly<Pick<FeedState, 'lid'>>;
  /** ms since 1970. */
  readonly wall: () => number;
  /** The transducers on the manifold, watched beside a reader. */
  readonly rangeWatch: (terms: ReaderTerms) => RangeWatch;
  readonly sink: JudgedReadingSink;
}

export interface JudgedReadingSink {
  /** A fresh reader is to read this channel; nothing of it has been read yet. */
  judgeBy(channel: string): void;
  /** It reads. */
  changed(): void;
  /** What the reader finds; told before `enter` returns. */
  heed(news: RunNews): void;
  /** A run has begun, and the entry that began it has been read: what the run must carry from the start is to be put in now. */
  runBegan(): void;
  /** The reader threw; a fresh one takes its place. */
  failed(error: unknown): void;
}

/** What a reader of an earlier session worked by, and what it had read of a run that was left open. */
export interface EarlierReading {
  readonly judging: JudgingSetup;
  readonly channel: Channel;
  readonly instrument: Instrument | null;
  readonly entries: readonly TraceEntry[];
}

/** s of sample time between two views: 20 a second. */
const viewEvery = 0.05;

/** Has one channel of a bench read and judged. What it is judged by changes between runs only, with a fresh reader. */
export class JudgedReading {
  private readonly entries = new Subject<TraceEntry>();
  private reading = new Subscription();
  private present: ReaderTerms;
  /** What the next reader judges by. */
  private wanted: JudgingSetup;
  private ranges: RangeWatch;
  /** A run has begun with the entry that is being read. */
  private runBegan = false;
  private replaying = false;
  private newest = -Infinity;
  /** s, sample time of the last look at the calibration's due day. */
  private calibrationLook = 0;

  /** Nothing is read before `begin` or `replay`. @param terms of the first reader */
  constructor(private readonly setup: JudgedReadingSetup, terms: ReaderTerms) {
    this.present = terms;
    this.wanted = terms.judging;
    this.ranges = setup.rangeWatch(terms);
  }

  /** What the present reader works by. */
  get terms(): ReaderTerms {
    return this.present;
  }

  /** s, time of the newest entry; -Infinity before the first. */
  get lastTime(): number {
    return this.newest;
  }

  /** The plan and thresholds for the next reader. */
  want(judging: JudgingSetup): void {
    this.wanted = judging;
  }

  /** A fresh reader, between runs, by what is wanted. */
  begin(): void {
    const { channels, wall } = this.setup;
    this.read(termsOf(this.wanted, channels, this.present.channel, wall()));
  }

  /** Brings a fresh reader to where an earlier session was. What it finds on the way is told as always. */
  replay({ judging, channel, instrument, entries }: EarlierReading): void {
    this.replaying = true;
    this.read({ judging, channel, instrument: instrument ?? instrumentOf(channel, this.setup.wall()) });
    for (const entry of entries) this.enter(entry);
    this.replaying = false;
  }

  /** Hands one entry to the reader. */
  enter(entry: TraceEntry): void {
    this.newest = Math.max(this.newest, entry.time);
    this.entries.next(entry);
    if (this.runBegan && !this.replaying) {
      this.runBegan = false;
      this.ranges.runBegan();
      this.setup.sink.runBegan();
    }
    if (this.setup.state.runSince !== null || this.replaying) return;
    // The due day may end while the bench stands idle: the next run must know.
    if (entry.time - this.calibrationLook >= 1) {
      this.calibrationLook = entry.time;
      this.lookAtCalibration();
    }
    if (this.wanted !== this.present.judging) this.begin();
  }

  /** A reading of any channel of the bench; those of the judged one are entered as well. */
  hear(sample: AcquiredSample): void {
    this.ranges.hear(sample);
  }

  /** Reads no more; a run that is open is left open. */
  stop(): void {
    this.reading.unsubscribe();
  }

  private read(terms: ReaderTerms): void {
    const { state, sink, rangeWatch } = this.setup;
    this.reading.unsubscribe();
    this.present = terms;
    sink.judgeBy(terms.channel.channel);
    this.ranges.end();
    this.ranges = rangeWatch(terms);
    this.ranges.begin();
    state.runSince = null;
    state.setup = shownSetupOf(terms);
    this.reading = this.entries.pipe(relayRuns(readerSetupOf(terms), { viewEvery }, state.lid)).subscribe({
      next: (news) => this.heed(news),
      error: (error: unknown) => {
        sink.failed(error);
        this.begin();
      },
    });
    sink.changed();
  }

  private heed(news: RunNews): void {
    if (news.type === 'run-started') {
      this.setup.state.runSince = news.at;
      this.runBegan = true;
    } else if (news.type === 'run-ended') this.setup.state.runSince = null;
    this.setup.sink.heed(news);
    if (news.type !== 'run-ended') return;
    this.ranges.runEnded();
    this.lookAtCalibration();
  }

  private lookAtCalibration(): void {
    if (calibrationTurned(this.present, this.setup.wall())) this.wanted = { ...this.wanted };
  }
}
