import type { LiveView } from '../../src/core/live.js';
import type { FoundEvent } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import type { PressureUnit } from '../../src/core/units.js';
import type {
  BenchFeed, BenchHealth, BenchSetup, FeedListener, RunSummary, SampleBatch, Stretch, TraceEnvelope, WallAnchor,
} from '../../src/server/bench-feed.js';
import { thin, thinnedPoints } from '../../src/sinks/live-thinning.js';

/** A plan of the invented workshop that the page tests play in. */
export const planOfTests = parsePlan(
  {
    plan: 'two-wire DN12 proof', testPressure: '550 bar', holdTime: '60 s', minimumPressure: '530 bar',
    ceilingPressure: '600 bar', leakLimit: '1.5 bar/min',
  },
  'plan of tests',
);

export const quietView: LiveView = {
  time: null, pressure: null, phase: 'vented', phaseSince: null, sentence: 'vented, ready for the next run', deciding: [],
  verdict: null, holdLeft: null, holdSince: null, cycle: 1, cycles: 1, peak: null, slope: null, strokes: 0, events: [],
};

/** A bench whose every word and sample the test decides. Keeps all samples, counted from 0. */
export class ScriptedFeed implements BenchFeed {
  unit: PressureUnit = 'bar';
  session = 'first';
  now: LiveView = quietView;
  since: number | null = null;
  state: BenchHealth = { dataAge: null, recording: true, lid: 'closed', notices: [] };
  told: BenchSetup = { plan: planOfTests, thresholds: 'standard', gap: 1, resolution: 0.1 };
  wall: WallAnchor = { time: 0, wall: Date.UTC(2026, 2, 9, 8, 30, 0) };
  runs: RunSummary[] = [];
  readonly found: FoundEvent[] = [];
  readonly time: number[] = [];
  readonly pressure: number[] = [];
  readonly flags: number[] = [];
  /** Samples below this number are no longer kept. */
  forgotten = 0;
  readonly listeners = new Set<FeedListener>();
  /** Real ms at which the newest sample was given, for the data age; `null` keeps the age that the test set. */
  #givenAt: number | null = null;

  constructor(readonly name = 'bench one') {}

  setup(): BenchSetup { return this.told; }
  view(): LiveView { return this.now; }
  runSince(): number | null { return this.since; }
  anchor(): WallAnchor { return this.wall; }
  newest(): number { return this.time.length - 1; }
  health(): BenchHealth {
    return this.#givenAt === null ? this.state : { ...this.state, dataAge: (performance.now() - this.#givenAt) / 1000 };
  }
  samplesSince(sequence: number, limit: number): SampleBatch {
    const first = Math.max(sequence + 1, this.forgotten);
    const end = Math.min(first + limit, this.time.length);
    return {
      first,
      time: Float64Array.from(this.time.slice(first, end)),
      pressure: Float64Array.from(this.pressure.slice(first, end)),
      flags: Uint8Array.from(this.flags.slice(first, end)),
    };
  }
  events(from: number): readonly FoundEvent[] { return this.found.filter(({ at }) => at >= from); }
  recentRuns(limit: number): readonly RunSummary[] { return this.runs.slice(0, limit); }
  envelope(stretch: Stretch, columns: number): TraceEnvelope | undefined {
    const run = 'run' in stretch ? this.runs.find(({ id }) => id === stretch.run) : stretch;
    if (!run) return undefined;
    const kept = this.time.map((t, i) => [t, this.pressure[i] ?? Number.NaN] as const).filter(([t]) => t >= run.from && t <= run.to);
    const out = thinnedPoints(columns);
    const picture = { from: run.from, to: run.to, columns, gap: this.told.gap };
    const count = thin(Float64Array.from(kept, ([t]) => t), Float64Array.from(kept, ([, p]) => p), 0, kept.length, picture, out);
    return { time: out.time.slice(0, count), pressure: out.pressure.slice(0, count), samples: kept.length };
  }
  subscribe(listener: FeedListener): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  /** New samples; a NaN is flagged unreadable. */
  give(...samples: readonly (readonly [time: number, pressure: number])[]): void {
    const first = this.time.length;
    for (const [t, p] of samples) {
      this.time.push(t);
      this.pressure.push(p);
      this.flags.push(Number.isNaN(p) ? 1 : 0);
    }
    this.#givenAt = performance.now();
    const last = samples.at(-1);
    if (last) this.now = { ...this.now, time: last[0], pressure: Number.isNaN(last[1]) ? null : last[1] };
    const batch = this.samplesSince(first - 1, samples.length);
    this.listeners.forEach((listener) => {
      listener.onSamples(batch);
      listener.onView(this.now);
    });
  }
  show(change: Partial<LiveView>): void {
    this.now = { ...this.now, ...change };
    this.listeners.forEach((listener) => listener.onView(this.now));
  }
  find(event: FoundEvent): void {
    this.found.push(event);
    this.listeners.forEach((listener) => listener.onEvent(event));
  }
  finish(run: RunSummary): void {
    this.runs.unshift(run);
    this.listeners.forEach((listener) => listener.onRunEnded(run));
  }
  change(state: Partial<BenchHealth>): void {
    this.state = { ...this.state, ...state };
    this.listeners.forEach((listener) => listener.onChanged());
  }
}

/** A finished run with everything but what the test is about. */
export const runOf = (part: Partial<RunSummary>): RunSummary => ({
  id: '17', session: 'first', from: 0, to: 100, wall: Date.UTC(2026, 2, 9, 8, 30, 0), verdict: 'pass', plan: 'two-wire DN12 proof',
  reasons: [], peak: 556.2, holds: [{ from: 30, to: 90 }], events: [], visual: null, ...part,
});
