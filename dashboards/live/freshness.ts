import { staleAfter } from '../../src/sinks/live-protocol.js';

/**
 * How old the newest sample is, by the page's own clock, without ever taking a late message for a fresh one: what the
 * server says of the age is raised by the time that messages take on their way.
 */
export class Freshness {
  /** ms, page clock: the newest sample cannot be younger than this. */
  #sampledAt: number | null = null;
  /** ms that the last answered heartbeat took from page to server and back. */
  #delay = 0;
  #heardAt: number | null = null;

  /** Any message came in. */
  heard(now: number): void {
    this.#heardAt = now;
  }

  /** A heartbeat came in. `age` in s as the server knew it, `echo` as in the protocol. */
  heartbeat(age: number | null, echo: { readonly at: number; readonly held: number } | null, now: number): void {
    this.heard(now);
    if (echo) this.#delay = Math.max(now - echo.at - echo.held, 0);
    if (age !== null) this.#sampledAt = now - age * 1000 - this.#delay;
  }

  /** Samples came in, the newest `age` s old when they were sent. */
  samples(age: number | null, now: number): void {
    this.heard(now);
    if (age === null) return;
    this.#sampledAt = Math.max(this.#sampledAt ?? Number.NEGATIVE_INFINITY, now - age * 1000 - this.#delay);
  }

  /** Another session or bench: nothing is known. */
  reset(): void {
    this.#sampledAt = null;
    this.#delay = 0;
  }

  /** s since the newest sample; `null` when there has been none. */
  age(now: number): number | null {
    return this.#sampledAt === null ? null : Math.max(now - this.#sampledAt, 0) / 1000;
  }

  /** s since anything was heard; `null` when nothing ever was. */
  silence(now: number): number | null {
    return this.#heardAt === null ? null : Math.max(now - this.#heardAt, 0) / 1000;
  }

  /** True when the number on the page must not be believed: its sample, or all news of it, is too old. */
  stale(now: number): boolean {
    const age = this.age(now);
    const silence = this.silence(now);
    return age === null || silence === null || age > staleAfter || silence > staleAfter;
  }
}

/** The age in words for the top of the page. */
export function ageWords(age: number | null, connected: boolean): string {
  if (age === null) return connected ? 'no data yet' : 'not connected';
  if (age <= staleAfter) return `live, ${age < 1 ? 'under 1 s' : `${Math.floor(age)} s`} old`;
  const seconds = Math.floor(age);
  const text = seconds < 120 ? `${seconds} s` : seconds < 7200 ? `${Math.floor(seconds / 60)} min` : `${Math.floor(seconds / 3600)} h`;
  return `no live data for ${text}`;
}
