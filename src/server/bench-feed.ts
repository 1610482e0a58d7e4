import type { LiveView } from '../core/live.js';
import type { FoundEvent, Verdict } from '../core/outcome.js';
import type { Plan } from '../core/plan.js';
import type { PressureUnit } from '../core/units.js';

/**
 * What the pages may know of one bench. The daemon implements it, the server reads it; nothing in here can change a
 * run, a record or the bench. Every method answers from memory or from the local store at once and never throws on
 * numbers; `samplesSince` is called often and must not copy more than `limit` samples.
 *
 * Clock: every time is in s on the trace's own clock (`Sample.time`), every pressure in bar. `anchor` ties that clock
 * to the calendar.
 */
export interface BenchFeed {
  /** The bench's name as written in its file: part of addresses and shown to people. */
  readonly name: string;
  /** The unit that the bench is set to show. */
  readonly unit: PressureUnit;
  /** A new text for each start of the daemon: sequence numbers count within one session. */
  readonly session: string;

  /** What the present or the next run must show, and how the signal is read. May change between runs. */
  setup(): BenchSetup;
  /** The newest state of the reader. */
  view(): LiveView;
  /** s, first rise of the run that is going on (what the reader's `runStarted` said); `null` between runs. */
  runSince(): number | null;
  health(): BenchHealth;
  /** Newest anchor; a stepped wall clock or a new segment gives a new one. */
  anchor(): WallAnchor;

  /** Sequence number of the newest sample, -1 before the first. The first sample of a session has number 0. */
  newest(): number;
  /**
   * Up to `limit` samples with a sequence number above `sequence`, oldest first, consecutive, without a hole between
   * them. Older ones than the daemon still keeps (10 to 30 min) are left out: then `first` is above `sequence + 1`.
   * Empty when there are none.
   */
  samplesSince(sequence: number, limit: number): SampleBatch;
  /** Events at or after `from` (s), oldest first, as far back as samples are kept. */
  events(from: number): readonly FoundEvent[];
  /** Finished runs, newest first, at most `limit`; they outlive the session. */
  recentRuns(limit: number): readonly RunSummary[];
  /**
   * A past stretch thinned to about `columns` columns, each by its first, lowest, highest and last sample
   * (`thin` in src/sinks/live-thinning.ts does it). `undefined` for a run that is not known.
   */
  envelope(stretch: Stretch, columns: number): TraceEnvelope | undefined;

  /** Calls back until the returned function is called. A listener never throws and never waits. */
  subscribe(listener: FeedListener): () => void;
}

export interface FeedListener {
  /** New samples, in order, each exactly once; one or many at a time. The arrays are not kept by the listener. */
  onSamples(batch: SampleBatch): void;
  /** The state has changed; at least at each change of phase, verdict or `deciding`, at most some 20 times a second. */
  onView(view: LiveView): void;
  /** One event was found. It may lie a little in the past. */
  onEvent(event: FoundEvent): void;
  /** A run is over, judged and recorded. */
  onRunEnded(run: RunSummary): void;
  /** Something was said about a finished run: its visual finding, its job. */
  onRunsChanged?(): void;
  /** `setup`, `anchor` or the contacts and notices of `health` are no longer the same. */
  onChanged(): void;
}

export interface BenchSetup {
  /** `null`: runs are recorded and measured, and stay inconclusive. */
  readonly plan: Plan | null;
  /** Name of the thresholds in use. */
  readonly thresholds: string;
  /** s between samples above which the line is broken: the thresholds' gap, never less than three intervals. */
  readonly gap: number;
  /** Smallest step worth showing, bar; `null` when not known. */
  readonly resolution: number | null;
}

/** Consecutive samples, column by column, equal lengths. */
export interface SampleBatch {
  /** Sequence number of the first. */
  readonly first: number;
  /** s */ readonly time: Float64Array;
  /** bar; NaN where there is no number to show, never 0 in its stead. */
  readonly pressure: Float64Array;
  /** `Flag` bits (src/core/trace.ts); 0 is a good sample. */
  readonly flags: Uint8Array;
}

/** One moment on both clocks. */
export interface WallAnchor {
  /** s on the trace's own clock. */
  readonly time: number;
  /** ms since 1970-01-01T00:00Z. */
  readonly wall: number;
}

/** A switch of the bench as it was last read. */
export interface ContactState {
  readonly contact: 'lid' | 'pump' | 'vent';
  /** `null`: not read yet, or it cannot be read any more. */
  readonly state: 'open' | 'closed' | 'on' | 'off' | null;
}

/** How far this bench's data can be relied on at this moment. */
export interface BenchHealth {
  /** s since the newest sample was received, by the daemon's own monotonic clock; `null` before the first. */
  readonly dataAge: number | null;
  /** True while samples are being written to the local store. */
  readonly recording: boolean;
  /** The lid contact; `null` when the bench has none. */
  readonly lid: 'open' | 'closed' | null;
  /** Every switch that the bench has; none where it has none. */
  readonly contacts?: readonly ContactState[];
  /** What people should know, most urgent first, bounded: lost link, full disk, calibration due... */
  readonly notices: readonly Notice[];
}

export interface Notice {
  readonly weight: 'alarm' | 'warning' | 'remark';
  /** One plain sentence. */
  readonly text: string;
}

/** A finished run as lists show it. */
export interface RunSummary {
  /** Number or hash that finds the record again; safe in an address. */
  readonly id: string;
  /** The session in which it was taken: `from` and `to` are on that session's clock. */
  readonly session: string;
  /** s, first and last sample. */
  readonly from: number;
  readonly to: number;
  /** ms since 1970, start of the run. */
  readonly wall: number;
  readonly verdict: Verdict;
  /** Name of the plan. */
  readonly plan: string | null;
  /** Sentences of the findings that decided it, most telling first; at least one unless it passed. */
  readonly reasons: readonly string[];
  /** bar, highest real pressure. */
  readonly peak: number | null;
  /** s, start and end of each hold. */
  readonly holds: readonly { readonly from: number; readonly to: number }[];
  readonly events: readonly FoundEvent[];
  /** The operator's visual finding as it reads on the record; `null` while nobody has given one. */
  readonly visual: string | null;
}

/** By the id of a finished run, or by time on the present session's clock, s. */
export type Stretch = { readonly run: string } | { readonly from: number; readonly to: number };

/** Thinned samples, oldest first; NaN stands for a missing sample and breaks the line. */
export interface TraceEnvelope {
  /** s */ readonly time: Float64Array;
  /** bar */ readonly pressure: Float64Array;
  /** How many samples were thinned into it. */
  readonly samples: number;
}
