import { Retention, type RetentionRules } from './retention.js';
import type { StoreParts } from './store-parts.js';

export interface RetentionRoundsSetup {
  readonly rules: RetentionRules;
  /** ms since 1970. */
  readonly now: () => number;
  /** Says in the ledger, sealed, that the trace of a run is given up. */
  readonly giveUp: (run: number, why: string) => void;
  /** Trouble with the file. */
  readonly note: (error: unknown) => void;
}

/** s of wall time between two looks for what may be given up, once nothing more was. */
const lookEvery = 10;

/** When the store looks for what may be given up to keep room, and what somebody still needs of it. */
export class RetentionRounds {
  private readonly pins = new Map<string, (channel: number) => number | null>();
  private retention: Retention | null = null;
  private last = -Infinity;

  /** @param setup `null`: nothing is ever given up */
  constructor(private readonly setup: RetentionRoundsSetup | null) {}

  /** From here on it is about this file. */
  begin({ db, blocks, channels }: StoreParts): void {
    if (this.setup === null) return;
    const { rules, now, giveUp } = this.setup;
    this.retention = new Retention({ db, blocks, channels, rules, now, giveUp, neededFrom: (channel) => this.neededFrom(channel) });
  }

  /** Call about once a second with the present time (s): gives a little up where it is due. Never throws. */
  tick(now: number): void {
    if (now - this.last < lookEvery) return;
    try {
      // While there is more to do it goes on with the next tick.
      if (this.retention?.step() !== true) this.last = now;
    } catch (error) {
      this.last = now;
      this.setup?.note(error);
    }
  }

  /** As `Store.pin`. */
  pin(name: string, neededFrom: (channel: number) => number | null): () => void {
    this.pins.set(name, neededFrom);
    return () => this.pins.delete(name);
  }

  private neededFrom(channel: number): number {
    return Math.min(Infinity, ...[...this.pins.values()].map((neededFrom) => neededFrom(channel) ?? Infinity));
  }
}
