import { Subscription } from 'rxjs';
import type { Logger } from 'pino';
import { systemClock, type Clock } from '../../drivers/clock.js';
import type { Wiring } from '../../drivers/wiring.js';
import { acquireLink, type Acquired, type AcquiredSample } from '../acquisition/acquire.js';
import type { Bench } from '../acquisition/bench-file.js';
import type { Channel } from '../acquisition/channel-config.js';
import { onManifold } from '../acquisition/judged-channel.js';
import { RunReader } from '../core/run-reader.js';
import type { Mark } from '../core/trace.js';
import type { RunNews } from '../operators/run-news.js';
import type { Signer } from '../records/seal.js';
import { diskRefusal } from '../records/disk-refusal.js';
import { openStore, type Store } from '../records/store.js';
import type { WallAnchor } from '../server/bench-feed.js';
import type { JudgingSetup } from './bench-setup.js';
import { ClockWatch } from './clock-watch.js';
import { clockStartOf, micro } from './clock-start.js';
import { ContactBoard } from './contact-board.js';
import { DiskWatch } from './disk-watch.js';
import { Doubts } from './doubts.js';
import { JudgedReading } from './judged-reading.js';
import { logLink } from './link-log.js';
import { LinkNotices } from './link-notices.js';
import type { BenchListener } from './bench-listener.js';
import { Listeners } from './listeners.js';
import { LiveFeed, type FeedState } from './live-feed.js';
import { NoticeBoard } from './notice-board.js';
import { RangeWatch } from './range-watch.js';
import { RecentSamples } from './recent-samples.js';
import { absence, markAbsence } from './mark-absence.js';
import { readerSetupOf, shownSetupOf, termsOf } from './reader-terms.js';
import { Recorder } from './recorder.js';
import { leftOpenOn, recordedChannels } from './recorded-channels.js';
import type { LeftOpen } from './left-open.js';
import { StoreNotices } from './store-notices.js';
import { machineTime, TraceClock, type TimeSources } from './trace-clock.js';

export interface DaemonSetup {
  readonly bench: Bench;
  readonly judging: JudgingSetup;
  readonly wiring: Wiring;
  readonly log: Logger;
  /** Name and version of the program, for the records. */
  readonly software: string;
  /** Signs every seal. */
  readonly signer?: Signer;
  readonly time?: TimeSources;
  /** Samples of a channel that may wait in memory while the disk refuses. */
  readonly waitingLimit?: number;
}

/** ms between two rounds of committing and looking at the clocks. */
const tickEvery = 500;
/** A mark comes this much after the sample before it (s): a replay then reads both in the same order. */
const justAfter = 1e-6;
const contactKinds: ReadonlySet<Mark['kind']> = new Set(['lid-open', 'lid-closed', 'pump-on', 'pump-off', 'vent-open', 'vent-closed', 'pump-unknown', 'vent-unknown']);
const idleReader = { runStarted: () => undefined, found: () => undefined, runEnded: () => undefined };

/**
 * One bench: its channels are acquired and recorded, one of them is judged and shown. Every decision comes from sample times; the timer in
 * here only commits, looks at the clocks and tries again what the disk refused.
 */
export class BenchDaemon {
  readonly feed: LiveFeed;
  private readonly board: NoticeBoard;
  private readonly state: FeedState;
  private readonly recent = new RecentSamples();
  private readonly linkNotices: LinkNotices;
  private readonly running = new Subscription();
  private readonly reading: JudgedReading;
  private clock: TraceClock;
  private clocks: ClockWatch | null = null;
  private store: Store | null = null;
  private recorder: Recorder | null = null;
  private readonly manifold: readonly Channel[];
  private readonly contacts: ContactBoard;
  private readonly doubts = new Doubts((mark) => this.mark({ ...mark, time: this.reading.lastTime }));
  /** The run that an earlier session left open, while its stored samples are read again. */
  private replaying: LeftOpen | null = null;
  private troubles = 0;
  private readonly listeners = new Listeners((error) => this.trouble(error));
  private readonly time: TimeSources;
  private readonly disk: DiskWatch;
  private readonly storeNotices: StoreNotices;

  constructor(private readonly setup: DaemonSetup) {
    const { bench, judging } = setup;
    this.time = setup.time ?? machineTime;
    this.clock = new TraceClock(this.time);
    this.manifold = onManifold(bench.channels);
    const terms = termsOf(judging, bench.channels, bench.channel, this.clock.anchor().wall);
    this.board = new NoticeBoard((news) => {
      this.feed.changed();
      this.listeners.tell((listener) => listener.noticed?.(news));
    });
    this.disk = new DiskWatch({ store: bench.store, warnBelow: bench.disk.warnBelow, tell: (text) => this.notice('disk', text) });
    this.linkNotices = new LinkNotices(this.board, bench.links.length === 1, bench.channels.length === 1);
    this.storeNotices = new StoreNotices({ board: this.board, log: setup.log, bench: bench.name, trouble: (error) => this.trouble(error) });
    this.state = {
      view: new RunReader(readerSetupOf(terms), idleReader).view(),
      runSince: null,
      lastVerdict: null,
      setup: shownSetupOf(terms),
      anchor: this.clock.anchor(),
      recording: false,
      lid: null,
      contacts: [],
    };
    this.feed = new LiveFeed(bench.name, bench.unit, this.recent, this.state, () => this.clock.now(), () => this.board.list());
    this.reading = new JudgedReading({
      channels: bench.channels,
      state: this.state,
      wall: () => this.time.wall(),
      rangeWatch: ({ channel, judging: { plan } }) => new RangeWatch({
        channels: this.manifold, judged: channel, plan: plan?.value ?? null, unit: bench.unit, board: this.board,
        doubt: (subject, text) => this.doubt(subject, text),
      }),
      sink: {
        judgeBy: (channel) => this.recorder?.judgeBy(channel),
        changed: () => this.feed.changed(),
        heed: (news) => this.heed(news),
        runBegan: () => this.doubts.runBegan(),
        failed: (error) => {
          this.trouble(error);
          this.recorder?.keeper.lost('the program met an unexpected error during this run');
        },
      },
    }, terms);
    const lid = (state: FeedState['lid']) => {
      this.state.lid = state;
      this.feed.changed();
    };
    const contacts = (states: FeedState['contacts']) => {
      this.state.contacts = states;
      this.feed.changed();
    };
    this.contacts = new ContactBoard({ board: this.board, doubt: (subject, text) => this.doubt(subject, text), lid, contacts }, bench);
  }

  /**
   * Opens the store and begins. Nothing is written before.
   * @throws InputError when the store is another program's or another daemon has it, or its disk refuses
   */
  start(): void {
    try {
      this.begin();
    } catch (error) {
      this.stop();
      throw diskRefusal(error, this.setup.bench.store) ?? error;
    }
  }

  private begin(): void {
    const { bench, log, software, signer, waitingLimit } = this.setup;
    const { store, notices } = openStore(bench.store, {
      software, now: () => this.time.wall(), retention: bench.disk, remark: (sentence) => log.warn(sentence),
      thread: new URL('../cli/store-worker.js', import.meta.url), ...(signer && { signer }), ...(waitingLimit !== undefined && { waitingLimit }),
    });
    this.store = store;
    const channels = recordedChannels(store, bench.name, bench.channels);
    this.clock = new TraceClock(this.time, clockStartOf(store, [...channels.values()].map(({ id }) => id), this.time.wall()));
    this.state.anchor = this.clock.anchor();
    this.clocks = new ClockWatch(this.clock, { anchored: (anchor) => this.anchored(anchor), mark: (mark) => this.mark(mark) });
    const recorder = new Recorder({
      store,
      bench: bench.name,
      channels,
      session: this.feed.session,
      anchor: this.state.anchor,
      news: {
        listed: (run) => {
          log.info({ run: run.id, verdict: run.verdict, reasons: run.reasons }, 'run is over');
          this.feed.tellRunEnded(run);
          this.listeners.tell((listener) => listener.runEnded?.(run));
        },
        trouble: (sentence) => this.storeTrouble(sentence),
        replaced: (notice, runs) => this.storeNotices.replaced(notice, runs),
      },
    });
    this.recorder = recorder;
    this.state.recording = true;
    this.feed.attach(recorder);
    for (const notice of notices) this.storeNotices.opened(notice, store, channels, this.reading.terms.judging.thresholds.value, micro(this.clock.now()));
    const left = leftOpenOn(store, this.manifold, channels);
    if (left === null) {
      markAbsence(store, channels, recorder, micro(this.clock.now()));
      this.reading.begin();
    } else this.resume(left.run, left.channel, left.id, recorder);
    for (const link of bench.links) {
      this.running.add(
        acquireLink(link, this.setup.wiring, this.channelClock()).subscribe({
          next: (item) => this.hear(item),
          error: (error: unknown) => this.trouble(error),
          complete: () => log.info({ link: link.name }, 'no more data can come'),
        }),
      );
    }
    const timer = setInterval(() => this.tick(), tickEvery);
    this.running.add(() => clearInterval(timer));
    log.info({ bench: bench.name, store: bench.store, plan: this.reading.terms.judging.plan?.value.plan ?? null }, 'recording');
  }

  /** The plan and thresholds for the next run; the one that is going on keeps its own. */
  use(judging: JudgingSetup): void {
    this.reading.want(judging);
    if (this.state.runSince === null && this.store !== null) this.reading.begin();
  }

  /** Hears what the bench does from now on. @returns ends it */
  listen(listener: BenchListener): () => void {
    return this.listeners.add(listener);
  }

  /** The store, while the daemon runs; `null` before and after. */
  get records(): Store | null {
    return this.store;
  }

  /** Number of the run that is going on; `null` between runs, and while the store refuses it. */
  get openRun(): number | null {
    return this.recorder?.keeper.openRun ?? null;
  }

  /** Something that nobody expected: counted, shown, and survived. */
  trouble(error: unknown): void {
    this.troubles++;
    const text = error instanceof Error ? error.message : String(error);
    this.setup.log.error({ err: error }, 'unexpected error');
    this.board.put('trouble', 'warning', `the program met an unexpected error (${this.troubles} so far): ${text}`);
  }

  /** Says something on the page, or takes it away again. */
  notice(subject: string, text: string | null): void {
    if (text === null) this.board.clear(subject);
    else this.board.put(subject, 'warning', text);
  }

  /** Closes the link, writes what waits and lets go of the store. A run that is open goes on, with a gap, at the next start. */
  stop(): void {
    this.running.unsubscribe();
    this.reading.stop();
    if (this.store === null) return;
    this.recorder?.mark({ time: micro(Math.max(this.clock.now(), this.reading.lastTime + justAfter)), kind: 'signal-lost', text: 'the program was stopped' });
    if (this.recorder?.flush() === false) this.setup.log.error('not everything could be written before the end');
    this.store.close();
    this.store = null;
    this.setup.log.info('stopped');
  }

  private hear(item: Acquired): void {
    this.linkNotices.hear(item);
    this.listeners.tell((listener) => listener.heard?.(item));
    logLink(this.setup.log, item);
    if (item.kind === 'sample') this.sample(item);
    else if (item.kind === 'mark') this.linkMark(item.mark, item.link);
    else if (item.kind === 'contact-lost') {
      this.contacts.lost(item);
      if (item.contact !== 'lid') this.mark({ time: item.time, kind: `${item.contact}-unknown`, text: item.text });
    }
  }

  private sample(sample: AcquiredSample): void {
    const { channel, time, pressure, flags } = sample;
    this.recorder?.sample(sample);
    if (channel === this.reading.terms.channel.channel) {
      this.recent.push(time, pressure, flags);
      this.feed.tellSamples();
      this.reading.enter({ time, pressure, flags });
    }
    this.reading.hear(sample);
  }

  /** What happened to a link concerns its channels; what a switch says concerns all on the manifold. */
  private linkMark(mark: Mark, link: string): void {
    if (contactKinds.has(mark.kind)) return this.mark(mark);
    const channels = this.setup.bench.links.find(({ name }) => name === link)?.channels.map(({ channel }) => channel) ?? [];
    if (channels.includes(this.reading.terms.channel.channel)) return this.mark(mark, channels);
    this.setup.log.info({ mark: mark.kind, at: mark.time, link }, mark.text ?? mark.kind);
    this.recorder?.mark(mark, channels);
  }

  /** Puts something that was noticed into the trace of these channels, or of all on the manifold, and tells the reader. */
  private mark(noticed: Mark, channels: readonly string[] = this.manifold.map(({ channel }) => channel)): void {
    const mark = { ...noticed, time: micro(Math.max(noticed.time, this.reading.lastTime + justAfter)) };
    this.setup.log.info({ mark: mark.kind, at: mark.time }, mark.text ?? mark.kind);
    this.recorder?.mark(mark, channels);
    this.listeners.tell((listener) => listener.marked?.(mark, this.clock.wallOf(mark.time)));
    this.contacts.marked(mark, this.state.view.phase !== 'vented');
    this.reading.enter(mark);
  }

  /** Something keeps runs from being decided, or does so no longer (`null`). */
  private doubt(subject: string, text: string | null): void {
    if (text === null) this.doubts.clear(subject);
    else this.doubts.put(subject, text, this.state.runSince !== null && this.recorder !== null && this.replaying === null);
  }

  /** What the reader finds, while `enter` is under way. */
  private heed(news: RunNews): void {
    switch (news.type) {
      case 'view':
        this.feed.tellView(news.view);
        if (news.view.phase === 'vented') this.contacts.vented();
        return;
      case 'run-started':
        if (this.replaying?.knowsStart(news.at) !== true) this.recorder?.runStarted(news.at, this.reading.terms.judging, this.reading.terms.instrument);
        this.listeners.tell((listener) => listener.runStarted?.(news.at, this.clock.wallOf(news.at)));
        this.setup.log.info({ at: news.at }, 'run has begun');
        return;
      case 'event':
        if (this.replaying?.knows(news.event) !== true) this.recorder?.event(news.event);
        this.feed.tellEvent(news.event);
        this.contacts.found(news.event);
        this.listeners.tell((listener) => listener.found?.(news.event, this.clock.wallOf(news.event.at)));
        return;
      case 'run-ended':
        this.recorder?.runEnded(news.run, news.reading);
    }
  }

  /** Brings a fresh reader to where the earlier session was, marks the gap, and goes on. */
  private resume(left: LeftOpen, channel: Channel, id: number, recorder: Recorder): void {
    this.replaying = left;
    recorder.resume(id, left);
    this.state.lid ??= left.lid;
    this.reading.replay({ judging: left.judging, channel, instrument: left.instrument, entries: left.entries });
    this.replaying = null;
    if (this.state.runSince === null && recorder.keeper.openRun === left.number) recorder.keeper.abandon(this.reading.lastTime);
    const time = micro(this.clock.now());
    const text = absence(time - this.reading.lastTime);
    this.mark({ time: this.reading.lastTime, kind: 'signal-lost', text });
    this.mark({ time, kind: 'signal-back', text });
    this.setup.log.warn({ run: left.number }, text);
    this.board.put('resumed', 'remark', `run ${left.number} was going on when the program ended; ${text}, so that run cannot pass`);
  }

  private tick(): void {
    try {
      this.clocks?.look();
      this.recorder?.tick(this.clock.now());
      this.disk.tick(this.clock.now());
    } catch (error) {
      this.trouble(error);
    }
  }

  private anchored(anchor: WallAnchor): void {
    this.state.anchor = anchor;
    this.recorder?.segment(anchor);
    this.feed.changed();
  }

  private storeTrouble(sentence: string | null): void {
    this.state.recording = sentence === null;
    this.storeNotices.recording(sentence);
    this.feed.changed();
  }

  private channelClock(): Clock {
    return { now: () => micro(this.clock.now()), after: (delay, action) => systemClock.after(delay, action) };
  }
}
