/** A fixed grid of moments. Ticks that pass unseen are gone: none is made up for. */
export class TickGrid {
  #tick = 0;

  constructor(
    /** s, the first moment. */
    private readonly start: number,
    /** s between two moments. */
    private readonly every: number,
  ) {}

  /** s, the next moment. */
  get due(): number {
    return this.start + this.#tick * this.every;
  }

  /** Takes the moment that is due at `time` and all before it. @returns how many, 0 when none is due */
  take(time: number): number {
    if (time < this.due) return 0;
    const before = this.#tick;
    this.#tick = Math.max(this.#tick, Math.floor((time - this.start) / this.every + 1e-9)) + 1;
    return this.#tick - before;
  }
}
