import type { BenchListener } from '../daemon/bench-listener.js';
import type { SelfKnowledge } from '../server/health-routes.js';
import type { BenchFeed } from '../server/bench-feed.js';
import { BenchCounts, type CountedChannel } from './bench-counts.js';
import { freeBeside, sizeOfStore, type AlertState, type BenchState, type ForwarderState } from './bench-state.js';
import { EventLoopWatch } from './event-loop-watch.js';
import { healthOf, type Health } from './health.js';
import { Metrics } from './metrics.js';

/** One input of a bench. */
export interface WatchedChannel extends CountedChannel {
  /** s, where the bench file says how often a reading usually comes. */
  readonly usualInterval?: number | undefined;
}

/** A bench that is watched. */
export interface WatchedBench {
  readonly feed: BenchFeed;
  readonly channels: readonly WatchedChannel[];
  /** Path of its store. */
  readonly store: string;
  listen(listener: BenchListener): () => void;
}

export interface SelfWatchSetup {
  readonly bench: WatchedBench;
  readonly version: string;
  /** Says on the page, or no longer says, that the program stood still. */
  readonly notice: (text: string | null) => void;
  readonly viewers?: () => number;
  readonly alerts?: () => { readonly ways: readonly AlertState[]; readonly held: number };
  readonly forwarders?: () => readonly ForwarderState[];
}

/** s without a reading that are silence, and how many usual intervals, if that is longer. */
const silence = { floor: 5, intervals: 10 };

/** The program's knowledge of itself: counts, health, metrics, and a watch on its own pace. */
export class SelfWatch implements SelfKnowledge {
  private readonly counts: BenchCounts;
  private readonly pace: EventLoopWatch;
  private readonly metricTexts: Metrics;
  private release: (() => void) | null = null;

  constructor(private readonly setup: SelfWatchSetup) {
    this.counts = new BenchCounts(setup.bench.channels);
    this.pace = new EventLoopWatch({
      stalled: (seconds, count) => setup.notice(`the program stood still for ${seconds.toFixed(1)} s (${count} ${count === 1 ? 'time' : 'times'} so far): readings of that time came late`),
      over: () => setup.notice(null),
    });
    this.metricTexts = new Metrics({ benches: () => [this.state()], delays: () => this.pace.takeDelays(), stalls: () => this.pace.stalls, version: setup.version });
  }

  start(): void {
    this.release ??= this.setup.bench.listen(this.counts);
    this.pace.start();
  }

  stop(): void {
    this.release?.();
    this.release = null;
    this.pace.stop();
  }

  health(): Health {
    return healthOf([this.state()], this.pace.lateBy());
  }

  get contentType(): string {
    return this.metricTexts.contentType;
  }

  metrics(): Promise<string> {
    return this.metricTexts.text();
  }

  /** One line for the service manager: `Bay 2: live, recording, 12 runs`. */
  status(): string {
    const { bench, channels, recording, runs } = this.state();
    const count = runs.pass + runs.fail + runs.inconclusive;
    return `${bench}: ${channels.map(({ state }) => state).join(', ')}, ${recording ? 'recording' : 'NOT recording'}, ${count} runs since the start`;
  }

  private state(): BenchState {
    const { bench, viewers, alerts, forwarders } = this.setup;
    const { recording, notices } = bench.feed.health();
    const told = alerts?.() ?? { ways: [], held: 0 };
    return {
      bench: bench.feed.name,
      channels: this.counts.channels().map((state) => {
        const usual = bench.channels.find(({ channel }) => channel === state.channel)?.usualInterval ?? state.link.interval ?? 0;
        return { ...state, silentAfter: Math.max(silence.floor, silence.intervals * usual) };
      }),
      recording,
      runs: this.counts.runs,
      events: this.counts.events,
      notices,
      viewers: viewers?.() ?? 0,
      storeSize: sizeOfStore(bench.store),
      diskFree: freeBeside(bench.store),
      alerts: told.ways,
      alertsHeld: told.held,
      forwarders: forwarders?.() ?? [],
    };
  }
}
