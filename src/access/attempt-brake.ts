/** How hard the brake is on one key. */
export interface BrakeRule {
  /** Attempts that cost nothing. */
  readonly free: number;
  /** ms, after the first one beyond; doubled with each further one. */
  readonly first: number;
  /** ms, never more than this. */
  readonly most: number;
  /** ms without an attempt after which all is forgotten. */
  readonly forget: number;
}

/**
 * For a name: five slips are human; then 1 s, 2 s ... 5 min, so that at most some 300 guesses a day are possible. Never a
 * lasting lock, with which anybody could keep an operator out.
 */
export const personRule: BrakeRule = { free: 5, first: 1000, most: 300_000, forget: 3_600_000 };
/** For an address: a tablet is shared by a shift. */
export const addressRule: BrakeRule = { free: 20, first: 1000, most: 300_000, forget: 900_000 };

interface Tally {
  attempts: number;
  last: number;
}

/** Makes whoever guesses wait ever longer. Bounded: with too many keys the one that has been silent longest is forgotten. */
export class AttemptBrake {
  readonly #tallies = new Map<string, Tally>();

  /** @param now monotonic ms */
  constructor(
    private readonly rule: BrakeRule,
    private readonly now: () => number,
    private readonly mostKeys = 10_000,
  ) {}

  /** ms until the next attempt is taken; 0 when it is taken now. */
  wait(key: string): number {
    const tally = this.#tallies.get(key);
    if (tally === undefined) return 0;
    const { free, first, most, forget } = this.rule;
    const since = this.now() - tally.last;
    if (since >= forget) {
      this.#tallies.delete(key);
      return 0;
    }
    if (tally.attempts <= free) return 0;
    return Math.max(0, Math.min(most, first * 2 ** (tally.attempts - free - 1)) - since);
  }

  /** Counts an attempt before it is known how it ends: many at once must not slip through together. */
  book(key: string): void {
    const tally = this.#tallies.get(key) ?? { attempts: 0, last: 0 };
    this.#tallies.delete(key);
    this.#tallies.set(key, { attempts: tally.attempts + 1, last: this.now() });
    if (this.#tallies.size > this.mostKeys) for (const [oldest] of this.#tallies) return void this.#tallies.delete(oldest);
  }

  /** Takes one attempt back: it was right. */
  takeBack(key: string): void {
    const tally = this.#tallies.get(key);
    if (tally !== undefined && --tally.attempts <= 0) this.#tallies.delete(key);
  }

  /** Forgets a key: whoever knew the secret is welcome. */
  clear(key: string): void {
    this.#tallies.delete(key);
  }
}
