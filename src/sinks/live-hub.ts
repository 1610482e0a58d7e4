import type { BenchFeed, FeedListener } from '../server/bench-feed.js';
import { encodeFrame, frameCapacity, frameLength } from './live-frame.js';
import { protocolVersion, type PageMessage, type ServerMessage } from './live-protocol.js';
import { wireRuns, wireSetup, wireView } from './live-setup.js';
import { LiveViewer, type Transport, type ViewerLimits, type ViewerSource } from './live-viewer.js';

export interface HubOptions {
  readonly limits: ViewerLimits;
  /** Monotonic ms. */
  readonly now: () => number;
}

export const usualLimits: ViewerLimits = { waiting: 256 * 1024, stall: 15_000, history: 200_000 };

/** ms between two rounds of sending, and between two heartbeats. */
export const roundEvery = 50;
const heartbeatEvery = 1000;
const runsShown = 20;
const eventsShown = 2000;

/**
 * Spreads one bench's live data to its viewers. New samples only set a mark; sending happens in `round`, which the
 * owner calls every `roundEvery` ms, so that a slow viewer can never hold up the acquisition.
 */
export class LiveHub {
  readonly #viewers = new Set<LiveViewer>();
  readonly #source: ViewerSource;
  readonly #release: () => void;
  #frames = new Map<number, { readonly bytes: Uint8Array; readonly last: number }>();
  #viewChanged = false;
  #beatAt = Number.NEGATIVE_INFINITY;

  constructor(
    private readonly feed: BenchFeed,
    private readonly options: HubOptions,
  ) {
    this.#source = {
      session: feed.session,
      newest: () => feed.newest(),
      frameAfter: (sequence) => this.#frameAfter(sequence),
      snapshot: () => this.#snapshot(),
    };
    const listener: FeedListener = {
      onSamples: () => {},
      onView: () => {
        this.#viewChanged = true;
      },
      onEvent: (event) => this.#tell({ kind: 'event', event }),
      onRunEnded: () => this.#tell({ kind: 'runs', runs: wireRuns(feed, runsShown) }),
      onRunsChanged: () => this.#tell({ kind: 'runs', runs: wireRuns(feed, runsShown) }),
      onChanged: () => this.#tell({ kind: 'setup', setup: wireSetup(feed), health: feed.health() }),
    };
    this.#release = feed.subscribe(listener);
  }

  get viewers(): number {
    return this.#viewers.size;
  }

  /** Greets a new viewer. */
  join(transport: Transport): LiveViewer {
    const viewer = new LiveViewer(transport, this.#source, this.options.limits);
    this.#viewers.add(viewer);
    const { name, unit, session } = this.feed;
    transport.send(text({ kind: 'hello', protocol: protocolVersion, session, bench: name, unit, setup: wireSetup(this.feed) }));
    return viewer;
  }

  leave(viewer: LiveViewer): void {
    this.#viewers.delete(viewer);
  }

  receive(viewer: LiveViewer, message: PageMessage): void {
    viewer.receive(message, this.options.now());
  }

  /** One round: the newest state, the samples since the last round, and a heartbeat when it is due. */
  round(): void {
    this.#frames.clear();
    if (this.#viewers.size === 0) return;
    const now = this.options.now();
    if (this.#viewChanged) {
      this.#viewChanged = false;
      this.#tell({ kind: 'view', view: wireView(this.feed) });
    }
    const beat = now - this.#beatAt >= heartbeatEvery;
    if (beat) this.#beatAt = now;
    const state = beat ? { newest: this.feed.newest(), health: this.feed.health() } : null;
    for (const viewer of this.#viewers) {
      viewer.advance(now);
      if (state) viewer.tell(text({ kind: 'heartbeat', ...state, echo: viewer.echo(now) }));
    }
  }

  close(): void {
    this.#release();
    this.#viewers.clear();
  }

  #tell(message: ServerMessage): void {
    if (this.#viewers.size === 0) return;
    const told = text(message);
    for (const viewer of this.#viewers) viewer.tell(told);
  }

  #snapshot(): string {
    const { feed } = this;
    const view = feed.view();
    return text({
      kind: 'snapshot',
      view: wireView(feed),
      events: feed.events(Math.min(feed.runSince() ?? Number.POSITIVE_INFINITY, (view.time ?? 0) - 3600)).slice(-eventsShown),
      runs: wireRuns(feed, runsShown),
      health: feed.health(),
      setup: wireSetup(feed),
      newest: feed.newest(),
    });
  }

  #frameAfter(sequence: number): { readonly bytes: Uint8Array; readonly last: number } | undefined {
    const known = this.#frames.get(sequence);
    if (known) return known;
    const batch = this.feed.samplesSince(sequence, frameCapacity);
    if (batch.time.length === 0) return undefined;
    const frame = { bytes: encodeFrame(batch, this.feed.health().dataAge), last: batch.first + frameLength(batch) - 1 };
    this.#frames.set(sequence, frame);
    return frame;
  }
}

const text = (message: ServerMessage): string => JSON.stringify(message);
