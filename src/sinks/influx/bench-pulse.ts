import type { Acquired } from '../../acquisition/acquire.js';
import type { BenchListener, NoticeNews } from '../../daemon/bench-listener.js';
import type { FieldValue } from './line.js';

/** Hears a bench and says how it is, for the health of the fleet. */
export class BenchPulse implements BenchListener {
  private samples = 0;
  private faults = 0;
  private readonly notices = new Map<string, NoticeNews['weight']>();
  private runOpen = false;

  heard(item: Acquired): void {
    if (item.kind !== 'sample') return;
    this.samples++;
    if (item.flags !== 0) this.faults++;
  }

  noticed({ subject, weight, text }: NoticeNews): void {
    if (text === null) this.notices.delete(subject);
    else this.notices.set(subject, weight);
  }

  runStarted(): void {
    this.runOpen = true;
  }

  runEnded(): void {
    this.runOpen = false;
  }

  /** Fields of a health point; readings are counted since the last call. */
  take(): Record<string, FieldValue> {
    const count = (weight: NoticeNews['weight']) => BigInt([...this.notices.values()].filter((one) => one === weight).length);
    const fields = {
      samples: BigInt(this.samples),
      bad_samples: BigInt(this.faults),
      alarms: count('alarm'),
      warnings: count('warning'),
      run_open: this.runOpen,
    };
    [this.samples, this.faults] = [0, 0];
    return fields;
  }
}
