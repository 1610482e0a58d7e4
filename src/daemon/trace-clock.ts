import { uptime } from 'node:os';
import type { WallAnchor } from '../server/bench-feed.js';

/** What the machine can tell about time; a test passes its own. */
export interface TimeSources {
  /** s, never steps back, may stand still while the machine sleeps. */
  monotonic(): number;
  /** ms since 1970-01-01T00:00Z; may step at any moment. */
  wall(): number;
  /** s since the machine was started, going on while it sleeps. */
  sinceBoot(): number;
}

export const machineTime: TimeSources = {
  monotonic: () => performance.now() / 1000,
  wall: () => Date.now(),
  sinceBoot: () => uptime(),
};

/** What `TraceClock.check` found: the calendar was set, or the machine slept. `seconds` is signed for a step. */
export type ClockNews = { readonly kind: 'step'; readonly seconds: number } | { readonly kind: 'sleep'; readonly seconds: number };

/** s: a smaller change from one check to the next is reading noise or slow slewing. */
const sudden = 1;
/** s: slow slewing that has added up to this moves the anchor, without a word. */
const drift = 0.25;

/**
 * The clock of one trace: s, monotonic, tied to the calendar by an anchor. Durations come from it alone; the calendar
 * is a label.
 */
export class TraceClock {
  private readonly offset: number;
  private lastAnchor: WallAnchor;
  private bootOffset: number;
  /** s between calendar and monotonic clock at the last check. */
  private wallOffset: number;

  /** `startAt`: s that the clock shows now; above 0 where a trace of an earlier session goes on. */
  constructor(
    private readonly sources: TimeSources = machineTime,
    startAt = 0,
  ) {
    this.offset = startAt - sources.monotonic();
    this.lastAnchor = { time: startAt, wall: sources.wall() };
    this.bootOffset = sources.sinceBoot() - sources.monotonic();
    this.wallOffset = sources.wall() / 1000 - sources.monotonic();
  }

  /** s on the trace's clock. */
  now(): number {
    return this.sources.monotonic() + this.offset;
  }

  /** Newest tie to the calendar. */
  anchor(): WallAnchor {
    return this.lastAnchor;
  }

  /** ms since 1970 of a time on the trace's clock, by the newest anchor. */
  wallOf(time: number): number {
    return this.lastAnchor.wall + (time - this.lastAnchor.time) * 1000;
  }

  /**
   * To be called about once a second: compares the three clocks with the last call. The time since boot tells a sleep
   * from a step, which calendar and monotonic clock alone cannot. After either, and after slow slewing, `anchor` is new.
   */
  check(): ClockNews | null {
    const { sources } = this;
    const monotonic = sources.monotonic();
    const slept = sources.sinceBoot() - monotonic - this.bootOffset;
    const stepped = sources.wall() / 1000 - monotonic - this.wallOffset;
    this.bootOffset += slept;
    this.wallOffset += stepped;
    const time = monotonic + this.offset;
    const news: ClockNews | null =
      slept >= sudden ? { kind: 'sleep', seconds: slept } : Math.abs(stepped) >= sudden ? { kind: 'step', seconds: stepped } : null;
    if (news !== null || Math.abs(sources.wall() - this.wallOf(time)) >= drift * 1000) this.lastAnchor = { time, wall: sources.wall() };
    return news;
  }
}
