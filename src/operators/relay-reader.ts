import type { ReaderSetup } from '../core/run-reader.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import { NewsReader, type NewsOptions, type RunNews, type TraceEntry } from './run-news.js';

/** When a fresh reader takes over. */
export interface RelayRules {
  /** s and samples of idle reading that a reader must have seen before it takes over. */
  readonly lead: number;
  readonly samples: number;
  /** s: a reader that has been at it for longer is relieved at the next moment without a run, vented or not. */
  readonly longest: number;
}

/**
 * Twice what the reader remembers of its noise (128 samples) and of the vented reading (10 s); an hour of 1 kHz is read
 * again in seconds.
 */
export const relayRules: RelayRules = { lead: 30, samples: 256, longest: 3600 };

/** A reader and where it began. */
interface Leg {
  readonly reader: NewsReader;
  /** s; NaN before its first entry. */
  from: number;
  readonly lid: ReadingStretch['lid'];
  samples: number;
}

/**
 * Reads a trace that goes on for months with one reader after the other, handing over while nothing goes on. A run then
 * depends on the idle time shortly before it and on nothing older, so that it can be judged again from its record alone:
 * each run's end tells what was read for it.
 */
export class RelayReader {
  private leg: Leg;
  private next: Leg | null = null;
  private newest = -Infinity;
  private running = false;

  constructor(
    private readonly setup: ReaderSetup,
    private readonly options: NewsOptions = {},
    /** The lid contact as it is known by now. */
    private lid: ReadingStretch['lid'] = null,
    private readonly rules = relayRules,
  ) {
    this.leg = this.fresh(options);
  }

  /** Reads one entry and gives what it brought to light. */
  read(entry: TraceEntry): readonly RunNews[] {
    const sample = !('kind' in entry);
    // Readings of one and the same moment are never parted: a stretch is told by its times.
    if (sample && entry.time > this.newest && !this.running) this.next ??= this.fresh(this.options);
    for (const leg of this.next === null ? [this.leg] : [this.leg, this.next]) take(leg, entry);
    this.next?.reader.fetch();
    this.newest = Math.max(this.newest, entry.time);
    if (!sample && (entry.kind === 'lid-open' || entry.kind === 'lid-closed')) this.lid = entry.kind === 'lid-open' ? 'open' : 'closed';
    const news = this.leg.reader.fetch().map((item) => this.noted(item, entry.time));
    if (!this.running && sample) this.relieve(entry.time);
    return news;
  }

  private noted(item: RunNews, time: number): RunNews {
    if (item.type === 'run-started') {
      this.running = true;
      this.next = null;
    }
    if (item.type !== 'run-ended') return item;
    this.running = false;
    return { ...item, reading: { from: this.leg.from, to: time, lid: this.leg.lid } };
  }

  /** Hands over where the next reader has seen enough. */
  private relieve(time: number): void {
    const { next, leg, rules } = this;
    if (next === null || next.samples < rules.samples || time - next.from < rules.lead) return;
    const [before, after] = [leg.reader.state(), next.reader.state()];
    if (before.running || after.running) {
      // They disagree about what goes on: the one that has seen more is right.
      this.next = null;
    } else if ((before.vented && after.vented) || time - leg.from > rules.longest) {
      this.leg = next;
      this.next = null;
    }
  }

  private fresh(options: NewsOptions): Leg {
    return { reader: new NewsReader(this.setup, options), from: NaN, lid: this.lid, samples: 0 };
  }
}

function take(leg: Leg, entry: TraceEntry): void {
  if (Number.isNaN(leg.from)) {
    leg.from = entry.time;
    if (leg.lid !== null) leg.reader.read({ time: entry.time, kind: leg.lid === 'open' ? 'lid-open' : 'lid-closed' });
  }
  if (!('kind' in entry)) leg.samples++;
  leg.reader.read(entry);
}
