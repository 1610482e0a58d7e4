import type { Mark } from '../core/trace.js';
import type { WallAnchor } from '../server/bench-feed.js';
import type { TraceClock } from './trace-clock.js';

/** What the watch tells. */
export interface ClockNewsSink {
  /** The trace's clock is tied to the calendar anew. */
  anchored(anchor: WallAnchor): void;
  mark(mark: Mark): void;
}

/** Looks at the clocks about once a second: what they did goes into the trace as marks. */
export class ClockWatch {
  private anchor: WallAnchor;

  constructor(
    private readonly clock: TraceClock,
    private readonly sink: ClockNewsSink,
  ) {
    this.anchor = clock.anchor();
  }

  look(): void {
    const news = this.clock.check();
    const anchor = this.clock.anchor();
    if (anchor !== this.anchor) {
      this.anchor = anchor;
      this.sink.anchored(anchor);
    }
    if (news?.kind === 'step') {
      this.sink.mark({ time: anchor.time, kind: 'clock-step', text: `the clock of the computer was set by ${news.seconds.toFixed(1)} s` });
    } else if (news?.kind === 'sleep') {
      const text = `no data for ${news.seconds.toFixed(0)} s: the computer slept`;
      this.sink.mark({ time: anchor.time, kind: 'signal-lost', text });
      this.sink.mark({ time: anchor.time, kind: 'signal-back', text });
    }
  }
}
