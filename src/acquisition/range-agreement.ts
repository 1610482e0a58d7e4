/** A transducer as the comparison needs it; pressures in bar. */
export interface Compared {
  readonly range: { readonly lower: number; readonly upper: number };
  /** Expanded uncertainty (k = 2). */
  readonly uncertainty: number;
}

/** Where the two stand apart beyond what both may err. */
export interface Disagreement {
  /** s */ readonly at: number;
  /** bar, the means of half a second. */
  readonly judged: number;
  readonly other: number;
  /** bar, what would have been within both uncertainties. */
  readonly allowed: number;
}

/** s that means are taken over, so that the two need not be read at the same moment. */
const binWidth = 0.5;
/** Bins in a row before it counts: a pump stroke moves the two at slightly different times. */
const inARow = 3;
/** Share of a bin by which one instrument may lag behind the other, beside the time between its readings. */
const lag = 0.2;
/** A reading that moves less than this share of what the other one moved does not follow it. */
const following = 0.5;

interface Bin {
  start: number;
  judged: Extent;
  other: Extent;
}
interface Extent {
  sum: number;
  count: number;
  lowest: number;
  highest: number;
}
const fresh = (): Extent => ({ sum: 0, count: 0, lowest: Infinity, highest: -Infinity });
const mean = ({ sum, count }: Extent) => sum / count;

/**
 * Compares two transducers on one manifold wherever both can measure: a drifting one shows here first. Means of half a
 * second are compared, with room for how much the pressure moved within it. O(1) a sample, knows no clock.
 */
export class RangeAgreement {
  #bin: Bin | null = null;
  #apart = 0;
  /** Means where the two last agreed, or at the first look: what both have moved since tells whether the other one follows. */
  #reference: { judged: number; other: number } | null = null;
  /** True while they disagree. */
  disagreeing = false;
  /** True while the other one does not follow: its valve is shut. */
  isolated = false;
  /** Bins compared since the start or `restart`. */
  compared = 0;

  constructor(
    private readonly judged: Compared,
    private readonly other: Compared,
    /** True where the plan goes beyond what the other one stands, so that its valve has to be shut on the way. */
    private readonly mayBeIsolated: boolean,
  ) {}

  /** Begins to count anew: a run has begun. */
  restart(): void {
    this.compared = 0;
    this.#apart = 0;
    this.disagreeing = false;
  }

  /**
   * A good reading of one of the two; flagged ones are left out.
   * @returns a disagreement at the moment when it is sure
   */
  sample(which: 'judged' | 'other', time: number, pressure: number): Disagreement | null {
    let found: Disagreement | null = null;
    if (this.#bin !== null && Math.abs(time - this.#bin.start) >= binWidth) {
      found = this.#close(this.#bin);
      this.#bin = null;
    }
    this.#bin ??= { start: time, judged: fresh(), other: fresh() };
    const extent = this.#bin[which];
    extent.sum += pressure;
    extent.count++;
    extent.lowest = Math.min(extent.lowest, pressure);
    extent.highest = Math.max(extent.highest, pressure);
    return found;
  }

  #close({ start, judged, other }: Bin): Disagreement | null {
    if (judged.count === 0 || other.count === 0) return null;
    const [ours, theirs] = [mean(judged), mean(other)];
    if (!this.#inOverlap(judged) || !this.#inOverlap(other)) return null;
    const moved = Math.max(judged.highest - judged.lowest, other.highest - other.lowest);
    // Read at different moments of a rise, the two means differ by what the pressure moved meanwhile.
    const apart = lag + 1 / Math.min(judged.count, other.count);
    const allowed = Math.hypot(this.judged.uncertainty, this.other.uncertainty) + moved * Math.min(1, apart);
    this.#reference ??= { judged: ours, other: theirs };
    if (Math.abs(ours - theirs) <= allowed) {
      this.#reference = { judged: ours, other: theirs };
      this.isolated = false;
      this.disagreeing = false;
      this.#apart = 0;
      this.compared++;
      return null;
    }
    const [ourWay, theirWay] = [Math.abs(ours - this.#reference.judged), Math.abs(theirs - this.#reference.other)];
    if (this.mayBeIsolated && theirWay < following * ourWay) {
      this.isolated = true;
      this.#apart = 0;
      return null;
    }
    this.compared++;
    this.#apart++;
    if (this.#apart < inARow || this.disagreeing) return null;
    this.disagreeing = true;
    return { at: start, judged: ours, other: theirs, allowed };
  }

  /** What the narrower range covers, both can measure. */
  #inOverlap({ lowest, highest }: Extent): boolean {
    const lower = Math.max(this.judged.range.lower, this.other.range.lower) - this.judged.uncertainty - this.other.uncertainty;
    const upper = Math.min(this.judged.range.upper, this.other.range.upper);
    return lowest >= lower && highest <= upper;
  }
}
