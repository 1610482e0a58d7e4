import type { Acquired } from '../acquisition/acquire.js';
import type { FoundEvent } from '../core/outcome.js';
import type { Mark } from '../core/trace.js';
import type { RunSummary } from '../server/bench-feed.js';

/** What people should know, or no longer need to. */
export interface NoticeNews {
  /** Stable name of what it is about: `link`, `store`, `calibration`... */
  readonly subject: string;
  readonly weight: 'alarm' | 'warning' | 'remark';
  /** One plain sentence; `null` when it is over. */
  readonly text: string | null;
}

/**
 * Hears what a bench does, as it happens: counters, alerts. A listener must be quick and keep nothing unbounded; what it
 * throws is counted as trouble of the program and never reaches the bench.
 */
export interface BenchListener {
  /** Everything that the channels deliver: samples, faults, marks, states of the link. */
  heard?(item: Acquired): void;
  /** Something that was noticed went into the trace. `wall` is ms since 1970. */
  marked?(mark: Mark, wall: number): void;
  found?(event: FoundEvent, wall: number): void;
  runStarted?(at: number, wall: number): void;
  /** On record now, or waiting for the store (`id` tells). */
  runEnded?(run: RunSummary): void;
  noticed?(notice: NoticeNews): void;
}
