import type { PollOptions } from './line-options.js';
import { TickGrid } from './tick-grid.js';

/** What a grid tells its link to do. */
export interface PollSink {
  ask(): void;
  /** The question was not answered in time. */
  unanswered(time: number): void;
  /** Ticks passed without a question: one was still open, or the computer was busy. */
  skipped(time: number, ticks: number): void;
}

/**
 * Questions on a fixed grid: one at a time, missed ticks are skipped and never made up for. Answers on a text line
 * carry no number, so after a time-out nothing is asked until the line has been quiet: a late answer would be
 * taken for the next one.
 */
export class PollGrid {
  readonly #grid: TickGrid;
  #askedAt: number | null = null;
  #quietFrom: number | null = null;

  constructor(
    private readonly options: PollOptions,
    /** s, time of the first question. */
    start: number,
  ) {
    this.#grid = new TickGrid(start, options.every);
  }

  /** s, when `at` must be called next. */
  due(): number {
    return this.#askedAt === null ? this.#grid.due : Math.min(this.#grid.due, this.#askedAt + this.options.answerWithin);
  }

  at(time: number, sink: PollSink): void {
    if (this.#askedAt !== null && time >= this.#askedAt + this.options.answerWithin) {
      this.#askedAt = null;
      this.#quietFrom = time;
      sink.unanswered(time);
    }
    const ticks = this.#grid.take(time);
    if (ticks === 0) return;
    const quiet = this.#quietFrom === null || time >= this.#quietFrom + this.options.answerWithin;
    const asks = this.#askedAt === null && quiet;
    // Ticks that passed while the computer was busy are gone, too.
    const left = asks ? ticks - 1 : ticks;
    if (left > 0) sink.skipped(time, left);
    if (!asks) return;
    this.#quietFrom = null;
    this.#askedAt = time;
    sink.ask();
  }

  /** Bytes came: a line that is being emptied is not yet quiet. */
  bytes(time: number): void {
    if (this.#quietFrom !== null) this.#quietFrom = time;
  }

  /** A line came; true when it is the answer to the open question. */
  answered(): boolean {
    const expected = this.#askedAt !== null;
    this.#askedAt = null;
    return expected;
  }
}
