import type { BenchListener } from './bench-listener.js';

/** Whoever listens to one bench, told in turn; one that throws is reported and the others still hear. */
export class Listeners {
  private readonly all = new Set<BenchListener>();

  /** @param failed told what a listener threw */
  constructor(private readonly failed: (error: unknown) => void) {}

  /** @returns takes it away again */
  add(listener: BenchListener): () => void {
    this.all.add(listener);
    return () => this.all.delete(listener);
  }

  tell(say: (listener: BenchListener) => void): void {
    for (const listener of this.all) {
      try {
        say(listener);
      } catch (error) {
        this.failed(error);
      }
    }
  }
}
