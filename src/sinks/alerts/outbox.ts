import type { Alert } from './alert.js';
import { DeliveryError, type Way } from './way.js';

export interface OutboxCounts {
  readonly sent: number;
  /** Attempts that did not get through. */
  readonly failedAttempts: number;
  /** Given up: refused for good, too old, or pushed out of a full outbox. */
  readonly givenUp: number;
  readonly waiting: number;
  /** Why the last attempt failed; `null` while all is well. */
  readonly trouble: string | null;
}

/** Limits of an outbox; times in s. */
export interface OutboxRules {
  readonly atMost: number;
  readonly backoff: number;
  readonly backoffCap: number;
  /** What is older is no news any more. */
  readonly oldest: number;
  /** How often a message that was refused for good is tried. */
  readonly refusals: number;
}

export const outboxRules: OutboxRules = { atMost: 100, backoff: 5, backoffCap: 600, oldest: 7 * 86_400, refusals: 3 };

/**
 * Alerts on one way out, in their order, one at a time, each until it gets through. Bounded: of too many the oldest give
 * way and are counted. Never throws.
 */
export class Outbox {
  private readonly waiting: { readonly alert: Alert; readonly since: number }[] = [];
  private readonly count = { sent: 0, failedAttempts: 0, givenUp: 0 };
  private trouble: string | null = null;
  private failures = 0;
  private refusals = 0;
  private nextTry = -Infinity;
  private sending: Promise<void> | null = null;

  constructor(
    private readonly way: Way,
    /** s, monotonic. */
    private readonly now: () => number,
    /** The counts have changed. */
    private readonly changed: () => void = () => undefined,
    private readonly rules = outboxRules,
  ) {}

  get name(): string {
    return this.way.name;
  }

  put(alert: Alert): void {
    if (this.waiting.length >= this.rules.atMost) {
      // The one that is on its way is not taken back.
      this.waiting.splice(this.sending === null ? 0 : 1, 1);
      this.count.givenUp++;
    }
    this.waiting.push({ alert, since: this.now() });
    this.tick();
  }

  /** Call about once a second. */
  tick(): void {
    const first = this.waiting[0];
    if (this.sending !== null || first === undefined || this.now() < this.nextTry) return;
    if (this.now() - first.since > this.rules.oldest) {
      this.waiting.shift();
      this.count.givenUp++;
      this.changed();
      return this.tick();
    }
    this.sending = this.attempt(first.alert).finally(() => {
      this.sending = null;
      this.changed();
      if (this.failures === 0) this.tick();
    });
  }

  /** Resolves when nothing is on its way. */
  async rest(): Promise<void> {
    while (this.sending !== null) await this.sending;
  }

  counts(): OutboxCounts {
    return { ...this.count, waiting: this.waiting.length, trouble: this.trouble };
  }

  private async attempt(alert: Alert): Promise<void> {
    try {
      await this.way.deliver(alert);
      this.waiting.shift();
      this.count.sent++;
      this.failures = this.refusals = 0;
      this.trouble = null;
    } catch (error) {
      this.count.failedAttempts++;
      this.trouble = error instanceof Error ? error.message.split('\n').join('; ') : String(error);
      this.nextTry = this.now() + Math.min(this.rules.backoffCap, this.rules.backoff * 2 ** Math.min(this.failures, 16));
      this.failures++;
      if (!(error instanceof DeliveryError && error.final) || ++this.refusals < this.rules.refusals) return;
      this.waiting.shift();
      this.count.givenUp++;
      this.refusals = 0;
    }
  }
}
