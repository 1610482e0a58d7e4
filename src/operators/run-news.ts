import type { LiveView } from '../core/live.js';
import type { FoundEvent } from '../core/outcome.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import { RunReader, type FinishedRun, type ReaderSetup } from '../core/run-reader.js';
import type { Mark, Sample } from '../core/trace.js';

/** One line of a trace as it comes in: a reading, or something that the acquisition noticed. */
export type TraceEntry = Sample | Mark;

/** What a reader has to say, in the order in which it found it. Times in s on the trace's own clock. */
export type RunNews =
  | { readonly type: 'run-started'; readonly at: number }
  | { readonly type: 'event'; readonly event: FoundEvent }
  /** `reading` where the reader keeps account of what it has read. */
  | { readonly type: 'run-ended'; readonly run: FinishedRun; readonly reading?: ReadingStretch }
  | { readonly type: 'view'; readonly view: LiveView };

export interface NewsOptions {
  /**
   * s of sample time between two views, >= 0; left out: no views. An event or the start or end of a run brings a view
   * at once. Counted in sample time, so that a replay gives the same views.
   */
  readonly viewEvery?: number;
}

const nothing: readonly RunNews[] = [];

/** A `RunReader` that keeps its news until they are fetched. One for each subscriber; nothing is computed here. */
export class NewsReader {
  private news: RunNews[] = [];
  private nextView = -Infinity;
  private readonly reader: RunReader;
  private readonly viewEvery: number | undefined;

  constructor(setup: ReaderSetup, options: NewsOptions = {}) {
    this.viewEvery = options.viewEvery;
    this.reader = new RunReader(setup, {
      runStarted: (at) => this.news.push({ type: 'run-started', at }),
      found: (event) => this.news.push({ type: 'event', event }),
      runEnded: (run) => this.news.push({ type: 'run-ended', run }),
    });
  }

  /** Reads one entry; what it brought to light is fetched with `fetch`. */
  read(entry: TraceEntry): void {
    if ('kind' in entry) this.reader.mark(entry);
    else this.reader.step(entry.time, entry.pressure, entry.flags);
    if (this.viewEvery !== undefined && (this.news.length > 0 || entry.time >= this.nextView)) this.look(entry.time);
  }

  /** Whether a run or an attempt at one goes on, and whether the bench is vented. */
  state(): { readonly running: boolean; readonly vented: boolean } {
    const { phase, verdict } = this.reader.view();
    return { running: verdict === 'pending', vented: phase === 'vented' };
  }

  /** The recording is over. */
  end(): void {
    this.reader.end();
    if (this.viewEvery !== undefined) this.look(Infinity);
  }

  /** All that came since the last call. */
  fetch(): readonly RunNews[] {
    if (this.news.length === 0) return nothing;
    const fetched = this.news;
    this.news = [];
    return fetched;
  }

  private look(time: number): void {
    this.nextView = time + (this.viewEvery ?? 0);
    this.news.push({ type: 'view', view: this.reader.view() });
  }
}
