import type { Dropped, Fault, Notice } from '../../drivers/driver.js';
import type { Acquired } from './acquire.js';

/** What came over a link since it was first watched. */
export interface LinkCounts {
  readonly samples: number;
  readonly good: number;
  /** Flagged samples by what was wrong with them. */
  readonly faults: Readonly<Partial<Record<Fault, number>>>;
  /** Lines received and not used, by reason. */
  readonly dropped: Readonly<Partial<Record<Dropped['why'], number>>>;
  readonly notices: Readonly<Partial<Record<Notice['code'], number>>>;
  readonly signalLost: number;
  /** s, mean time between the last samples; `null` before there are two. */
  readonly interval: number | null;
  /** s, standard deviation of that time: an adapter that hands out readings in bunches shows here. */
  readonly intervalDeviation: number | null;
}

/** Samples that interval and deviation are taken over. */
const span = 64;

const add = <Key extends string>(counts: Partial<Record<Key, number>>, key: Key, times = 1) => {
  counts[key] = (counts[key] ?? 0) + times;
};

/** Counts what a bench delivers; the interval is that of the channel that was heard first. Bounded memory. */
export class LinkTally {
  #samples = 0;
  #good = 0;
  #signalLost = 0;
  readonly #faults: Partial<Record<Fault, number>> = {};
  readonly #dropped: Partial<Record<Dropped['why'], number>> = {};
  readonly #notices: Partial<Record<Notice['code'], number>> = {};
  readonly #times: number[] = [];
  #channel: string | null = null;

  hear(item: Acquired): void {
    switch (item.kind) {
      case 'sample':
        this.#samples += 1;
        if (item.flags === 0) this.#good += 1;
        if (item.fault !== undefined) add(this.#faults, item.fault);
        // The times of several channels together are no interval.
        this.#channel ??= item.channel;
        if (item.channel !== this.#channel) return;
        this.#times.push(item.time);
        if (this.#times.length > span) this.#times.shift();
        return;
      case 'dropped':
        return add(this.#dropped, item.why);
      case 'notice':
        return add(this.#notices, item.code, item.count);
      case 'mark':
        if (item.mark.kind !== 'signal-lost') return;
        this.#signalLost += 1;
        // The gap is no interval of the instrument.
        this.#times.length = 0;
        return;
      case 'state':
      case 'contact-lost':
        return;
    }
  }

  counts(): LinkCounts {
    const steps = this.#times.slice(1).map((time, i) => time - (this.#times[i] ?? time));
    const mean = steps.length === 0 ? null : steps.reduce((sum, step) => sum + step, 0) / steps.length;
    const deviation = mean === null ? null : Math.sqrt(steps.reduce((sum, step) => sum + (step - mean) ** 2, 0) / steps.length);
    return {
      samples: this.#samples,
      good: this.#good,
      faults: { ...this.#faults },
      dropped: { ...this.#dropped },
      notices: { ...this.#notices },
      signalLost: this.#signalLost,
      interval: mean,
      intervalDeviation: deviation,
    };
  }
}
