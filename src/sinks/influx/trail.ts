import type { Cursor } from './cursor.js';

/**
 * Cursors on their way to being trusted. A database may say yes to points that it has only in memory (VictoriaMetrics
 * writes to the disk some seconds later), and lose them when it dies. So a cursor is kept for good only once it has been
 * acknowledged for some time without a break, and after a break all that was not settled is sent again.
 */
export class Trail {
  private readonly waiting: { readonly at: number; readonly cursor: Cursor }[] = [];
  private readonly spacing: number;

  /**
   * @param settled from where all is sent again after a break
   * @param time ms that a cursor needs to settle
   */
  constructor(
    private settled: Cursor,
    private readonly time: number,
  ) {
    this.spacing = time / 60;
  }

  /** The newest cursor that has settled. */
  get base(): Cursor {
    return this.settled;
  }

  /** What lies before `cursor` was acknowledged at `now` (ms, monotonic). */
  add(cursor: Cursor, now: number): void {
    const before = this.waiting.at(-2);
    // The newest is always kept, of the others one a spacing: however many batches a second there are.
    if (before !== undefined && now - before.at < this.spacing) this.waiting.pop();
    this.waiting.push({ at: now, cursor });
  }

  /** Lets settle what has waited long enough at `now`. @returns whether `base` is another than before */
  settle(now: number): boolean {
    const before = this.settled;
    for (let first = this.waiting[0]; first !== undefined && now - first.at >= this.time; first = this.waiting[0]) {
      this.settled = first.cursor;
      this.waiting.shift();
    }
    return this.settled !== before;
  }

  /** The database may have forgotten what was not settled. @returns where to go on from */
  rewind(): Cursor {
    this.waiting.length = 0;
    return this.settled;
  }
}
