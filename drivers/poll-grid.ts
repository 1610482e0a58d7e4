import type { PollOptions } from './line-options.js';

/** What a grid tells its link to do. */
export interface PollSink {
  ask(): void;
  /** The question was not answered in time. */
  unanswered(time: number): void;
  /** A tick passed while a question was still open. */
  skipped(time: number): void;
}

/**
 * Questions on a fixed grid: one at a time, missed ticks are skipped and never made up for. Answers on a text line
 * carry no number, so after a time-out nothing is asked until the line has been quiet: a late answer would be
 * taken for the next one.
 */
export class PollGrid {
  #tick: number;
  #askedAt: number | null = null;
  #quietFrom: number | null = null;

  constructor(
    private readonly options: PollOptions,
    /** s, time of the first question. */
    private readonly start: number,
  ) {
    this.#tick = 0;
  }

  get #due(): number {
    return this.start + this.#tick * this.options.every;
  }

  /** s, when `at` must be called next. */
  due(): number {
    return this.#askedAt === null ? this.#due : Math.min(this.#due, this.#askedAt + this.options.answerWithin);
  }

  at(time: number, sink: PollSink): void {
    if (this.#askedAt !== null && time >= this.#askedAt + this.options.answerWithin) {
      this.#askedAt = null;
      this.#quietFrom = time;
      sink.unanswered(time);
    }
    if (time < this.#due) return;
    // Ticks that passed while the computer was busy are gone.
    this.#tick = Math.max(this.#tick, Math.floor((time - this.start) / this.options.every + 1e-9)) + 1;
    const quiet = this.#quietFrom === null || time >= this.#quietFrom + this.options.answerWithin;
    if (this.#askedAt !== null || !quiet) return sink.skipped(time);
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
