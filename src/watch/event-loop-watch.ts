import { monitorEventLoopDelay } from 'node:perf_hooks';

/** What the watch tells. */
export interface StallNews {
  /** The program stood still for so many s; `count` such stalls so far. */
  stalled(seconds: number, count: number): void;
  /** Nothing of the kind for a while. */
  over(): void;
}

/** ms between two beats. */
const beatEvery = 250;
/** s late: readings of that time were stamped late, and pages stood still. */
const stall = 1;
/** s after the last stall that people are still told. */
const staying = 600;
/** ms of the histogram's own sampling. */
const resolution = 20;

/**
 * Notices when the program was too busy to do anything: a beat that comes late. The delays are also counted in a histogram
 * of Node's own, for metrics. A sleep of the machine is no stall: the monotonic clock stands still during it.
 */
export class EventLoopWatch {
  private readonly delays = monitorEventLoopDelay({ resolution });
  private timer: NodeJS.Timeout | null = null;
  private due: number;
  private lastStall: number | null = null;
  stalls = 0;

  constructor(
    private readonly news: StallNews,
    /** s, monotonic. */
    private readonly now: () => number = () => performance.now() / 1000,
  ) {
    this.due = now() + beatEvery / 1000;
  }

  start(): void {
    this.delays.enable();
    this.due = this.now() + beatEvery / 1000;
    this.timer ??= setInterval(() => this.beat(), beatEvery);
  }

  stop(): void {
    this.delays.disable();
    if (this.timer !== null) clearInterval(this.timer);
    this.timer = null;
  }

  /** What the timer does each time. */
  beat(): void {
    const now = this.now();
    const late = now - this.due;
    this.due = now + beatEvery / 1000;
    if (late > stall) {
      this.stalls++;
      this.lastStall = now;
      this.news.stalled(late, this.stalls);
    } else if (this.lastStall !== null && now - this.lastStall > staying) {
      this.lastStall = null;
      this.news.over();
    }
  }

  /** s since a beat was due last: grows while nothing beats. */
  lateBy(): number {
    return Math.max(0, this.now() - this.due);
  }

  /** s: median, 99th percentile and longest delay since the last call; 0 before anything was measured. */
  takeDelays(): { readonly median: number; readonly p99: number; readonly longest: number } {
    const { delays } = this;
    const seconds = (nanoseconds: number) => (delays.count === 0 || !Number.isFinite(nanoseconds) ? 0 : Math.max(0, nanoseconds / 1e9 - resolution / 1000));
    const taken = { median: seconds(delays.percentile(50)), p99: seconds(delays.percentile(99)), longest: seconds(delays.max) };
    delays.reset();
    return taken;
  }
}
