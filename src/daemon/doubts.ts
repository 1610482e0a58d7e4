import type { Mark } from '../core/trace.js';

/** What people should know while a doubt lasts. */
interface Doubt {
  readonly text: string;
  /** True once the run that is going on carries it. */
  told: boolean;
}

/**
 * What keeps any run from being decided while it lasts: a lid contact that cannot be read, two transducers that disagree.
 * Each run carries each doubt as one mark in its trace, so that a replay comes to the same outcome.
 */
export class Doubts {
  private readonly doubts = new Map<string, Doubt>();

  /** @param mark puts a mark into the trace of the run that is going on */
  constructor(private readonly mark: (mark: Omit<Mark, 'time'>) => void) {}

  /** Something is in doubt, or for another reason than before. */
  put(subject: string, text: string, running: boolean): void {
    if (this.doubts.get(subject)?.text === text) return;
    this.doubts.set(subject, { text, told: false });
    if (running) this.tell();
  }

  clear(subject: string): void {
    this.doubts.delete(subject);
  }

  /** A run has begun: it carries what is in doubt already. */
  runBegan(): void {
    for (const doubt of this.doubts.values()) doubt.told = false;
    this.tell();
  }

  private tell(): void {
    for (const doubt of this.doubts.values()) {
      if (doubt.told) continue;
      doubt.told = true;
      this.mark({ kind: 'doubt', text: doubt.text });
    }
  }
}
