import { randomUUID } from 'node:crypto';
import type { LiveView } from '../core/live.js';
import type { FoundEvent, Verdict } from '../core/outcome.js';
import type { PressureUnit } from '../core/units.js';
import type {
  BenchFeed, BenchHealth, BenchSetup, ContactState, FeedListener, Notice, RunSummary, SampleBatch, Stretch, TraceEnvelope, WallAnchor,
} from '../server/bench-feed.js';
import { thin, thinnedPoints } from '../sinks/live-thinning.js';
import type { RecentSamples } from './recent-samples.js';

/** Finished runs and older samples, from the local store. */
export interface Archive {
  recentRuns(limit: number): readonly RunSummary[];
  /** Samples of a stretch in order of time; `undefined` for a run that is not known. */
  samples(stretch: Stretch): Pick<SampleBatch, 'time' | 'pressure'> | undefined;
}

/** What the daemon tells the feed from time to time. */
export interface FeedState {
  view: LiveView;
  runSince: number | null;
  /** Of the last run of this session, as lists show it; a pass only once its record is safe. */
  lastVerdict: Verdict | null;
  setup: BenchSetup;
  anchor: WallAnchor;
  recording: boolean;
  lid: BenchHealth['lid'];
  contacts: readonly ContactState[];
}

/** s and number of events that are kept for the pages. */
const eventSpan = 1200;
const eventsAtMost = 5000;

/** The bench as pages see it: answers from memory, and from the archive for what is older. */
export class LiveFeed implements BenchFeed {
  readonly session = randomUUID();
  private readonly listeners = new Set<FeedListener>();
  private recentEvents: FoundEvent[] = [];
  private told = -1;
  private telling: NodeJS.Immediate | null = null;
  private archive: Archive | null = null;

  constructor(
    readonly name: string,
    readonly unit: PressureUnit,
    private readonly recent: RecentSamples,
    private readonly state: FeedState,
    /** s on the trace's clock. */
    private readonly now: () => number,
    private readonly notices: () => readonly Notice[],
  ) {}

  setup(): BenchSetup {
    const { setup } = this.state;
    const interval = this.interval();
    return interval === null ? setup : { ...setup, gap: Math.max(setup.gap, 3 * interval) };
  }

  /** The reader's view. Its verdict on a run that is over is the one that is on record, or would be by now. */
  view(): LiveView {
    const { view, lastVerdict } = this.state;
    return view.verdict === 'pending' || view.verdict === lastVerdict ? view : { ...view, verdict: lastVerdict };
  }

  runSince(): number | null {
    return this.state.runSince;
  }

  health(): BenchHealth {
    const newest = this.recent.since(this.recent.newest() - 1, 1).time[0];
    return {
      dataAge: newest === undefined ? null : Math.max(0, this.now() - newest),
      recording: this.state.recording,
      lid: this.state.lid,
      ...(this.state.contacts.length > 0 && { contacts: this.state.contacts }),
      notices: this.notices(),
    };
  }

  anchor(): WallAnchor {
    return this.state.anchor;
  }

  newest(): number {
    return this.recent.newest();
  }

  samplesSince(sequence: number, limit: number): SampleBatch {
    return this.recent.since(sequence, limit);
  }

  events(from: number): readonly FoundEvent[] {
    return this.recentEvents.filter((event) => event.at >= from);
  }

  recentRuns(limit: number): readonly RunSummary[] {
    return this.archive?.recentRuns(limit) ?? [];
  }

  envelope(stretch: Stretch, columns: number): TraceEnvelope | undefined {
    const found = this.samples(stretch);
    if (found === undefined) return undefined;
    const { time, pressure } = found;
    const [from, to] = 'run' in stretch ? [time[0] ?? 0, time.at(-1) ?? 0] : [stretch.from, stretch.to];
    const points = thinnedPoints(columns);
    const written = thin(time, pressure, 0, time.length, { from, to, columns, gap: this.setup().gap }, points);
    return { time: points.time.slice(0, written), pressure: points.pressure.slice(0, written), samples: time.length };
  }

  subscribe(listener: FeedListener): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /** The archive is open. */
  attach(archive: Archive): void {
    this.archive = archive;
    this.changed();
  }

  /** Samples were added to `recent`: listeners hear of all of them together once the present work is done. */
  tellSamples(): void {
    if (this.listeners.size === 0) this.told = this.recent.newest();
    else this.telling ??= setImmediate(() => this.tellNow());
  }

  tellView(view: LiveView): void {
    this.state.view = view;
    const shown = this.view();
    for (const listener of this.listeners) listener.onView(shown);
  }

  tellEvent(event: FoundEvent): void {
    this.recentEvents.push(event);
    if (this.recentEvents.length > eventsAtMost || (this.recentEvents[0]?.at ?? event.at) < event.at - 2 * eventSpan) {
      this.recentEvents = this.recentEvents.filter(({ at }) => at >= event.at - eventSpan).slice(-eventsAtMost / 2);
    }
    for (const listener of this.listeners) listener.onEvent(event);
  }

  /** A run is over, or one that had waited for the store is on record now. */
  tellRunEnded(run: RunSummary): void {
    // Of several that waited, an earlier one may be told last.
    this.state.lastVerdict = (this.recentRuns(1)[0] ?? run).verdict;
    this.tellView(this.state.view);
    for (const listener of this.listeners) listener.onRunEnded(run);
  }

  /** Something was said about a finished run. */
  runsChanged(): void {
    for (const listener of this.listeners) listener.onRunsChanged?.();
  }

  /** Something of `setup`, `anchor` or `health` is new. */
  changed(): void {
    for (const listener of this.listeners) listener.onChanged();
  }

  private tellNow(): void {
    this.telling = null;
    const batch = this.recent.since(this.told, Infinity);
    this.told = this.recent.newest();
    if (batch.time.length > 0) for (const listener of this.listeners) listener.onSamples(batch);
  }

  private samples(stretch: Stretch): Pick<SampleBatch, 'time' | 'pressure'> | undefined {
    if ('run' in stretch) return this.archive?.samples(stretch);
    const oldest = this.recent.since(this.recent.oldest() - 1, 1).time[0];
    if (oldest !== undefined && oldest <= stretch.from) return this.recent.between(stretch.from, stretch.to);
    return this.archive?.samples(stretch) ?? this.recent.between(stretch.from, stretch.to);
  }

  /** s between the newest samples on average, or `null`. */
  private interval(): number | null {
    const { time } = this.recent.since(this.recent.newest() - 50, 50);
    const [first, last] = [time[0], time.at(-1)];
    return time.length < 10 || first === undefined || last === undefined ? null : (last - first) / (time.length - 1);
  }
}
