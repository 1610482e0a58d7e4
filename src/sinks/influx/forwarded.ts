import type { Refused } from './deliver.js';
import type { SampleTally } from './sample-spool.js';

/** How a forwarder stands, as numbers. Counts are since the start of the program. */
export interface ForwarderState {
  readonly target: string;
  /** False from the first failure until something has arrived again. */
  readonly reachable: boolean;
  /** Why not, in words; `null` while it is. */
  readonly trouble: string | null;
  /** Samples in the store that are not in the database yet, and the bytes of their blocks. */
  readonly waiting: number;
  readonly backlog: number;
  /** s from the oldest sample that waits to the newest; `null` when nothing waits. */
  readonly oldest: number | null;
  /** Points that the database has taken, those sent again too. */
  readonly delivered: number;
  /** Points that it will never take, and samples whose stamp was refused here. */
  readonly rejected: number;
  /** Samples that were never sent: no longer in the store, or damaged there. */
  readonly dropped: number;
  /** Samples left out of the oldest part of a long backlog. */
  readonly thinned: number;
  /** ms since 1970; `null` before the first delivery. */
  readonly lastDelivery: number | null;
}

/** What waits in the store. */
export interface Waiting {
  readonly samples: number;
  readonly bytes: number;
  /** s */ readonly seconds: number;
}

/** ms of trouble before anybody is told: a database that is started anew is no news. */
const patience = 5000;
/** s behind that are worth a word while the database answers. */
const longBehind = 60;

/** Keeps count of what a forwarder did, and puts it into words. */
export class Forwarded {
  waiting: Waiting = { samples: 0, bytes: 0, seconds: 0 };
  private trouble: { readonly why: string; readonly since: number; readonly now: number } | null = null;
  private delivered = 0;
  private refused = 0;
  private lastRefusal = '';
  private lastDelivery: number | null = null;
  private place = 0;
  private readonly tally = { removed: 0, damaged: 0, thinned: 0, wrongClock: 0 };

  constructor(private readonly target: string) {}

  arrived(count: number, refused: readonly Refused[], now: number): void {
    this.delivered += count;
    this.refused += refused.length;
    this.lastRefusal = refused.at(-1)?.why ?? this.lastRefusal;
    this.lastDelivery = now;
    this.trouble = null;
  }

  /** A stretch of the store lies behind; one that is sent again is not counted again. */
  passed({ removed, damaged, thinned, wrongClock }: SampleTally, place: number): void {
    if (place <= this.place) return;
    this.place = place;
    this.tally.removed += removed;
    this.tally.damaged += damaged;
    this.tally.thinned += thinned;
    this.tally.wrongClock += wrongClock;
  }

  failed(why: string, now: number): void {
    this.trouble = { why, since: this.trouble?.since ?? now, now };
  }

  state(): ForwarderState {
    const { removed, damaged, thinned, wrongClock } = this.tally;
    return {
      target: this.target,
      reachable: this.trouble === null,
      trouble: this.trouble?.why ?? null,
      waiting: this.waiting.samples,
      backlog: this.waiting.bytes,
      oldest: this.waiting.samples === 0 ? null : this.waiting.seconds,
      delivered: this.delivered,
      rejected: this.refused + wrongClock,
      dropped: removed + damaged,
      thinned,
      lastDelivery: this.lastDelivery,
    };
  }

  behindSentence(): string | null {
    const behind = this.waiting.samples === 0 ? '' : `, ${inWords(this.waiting.seconds)} behind`;
    if (this.trouble !== null && this.trouble.now - this.trouble.since >= patience) {
      return `the database ${this.target} gets no data: ${this.trouble.why}; what is recorded is safe in the store and is sent later${behind}`;
    }
    return this.waiting.seconds > longBehind ? `the database ${this.target} is being brought up to date${behind}` : null;
  }

  leftOutSentence(file: string): string | null {
    const { removed, damaged, thinned, wrongClock } = this.tally;
    const said = [
      this.refused > 0 && `${this.refused} points were refused (${this.lastRefusal}) and are kept in ${file}`,
      wrongClock > 0 && `${wrongClock} readings were not sent because the clock of this computer was wrong when they were taken`,
      removed > 0 && `${removed} readings had been removed from the store, as its settings say, before they could be sent`,
      damaged > 0 && `${damaged} readings are damaged in the store`,
      thinned > 0 && `${thinned} readings of the oldest backlog were left out: of each stretch the first, lowest, highest and last were sent`,
    ].filter((sentence) => sentence !== false);
    return said.length === 0 ? null : `the database ${this.target} does not have everything: ${said.join('; ')}`;
  }
}

/** Coarse, so that a sentence on a page does not change all the time. */
function inWords(seconds: number): string {
  if (seconds < 90) return 'up to a minute';
  if (seconds < 5400) return `${Math.round(seconds / 60)} min`;
  return seconds < 172_800 ? `${Math.round(seconds / 3600)} h` : `${Math.round(seconds / 86_400)} days`;
}
