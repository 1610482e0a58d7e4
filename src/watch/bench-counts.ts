import type { Acquired } from '../acquisition/acquire.js';
import type { LinkPhase } from '../acquisition/link-machine.js';
import { LinkTally, type LinkCounts } from '../acquisition/link-tally.js';
import type { FoundEvent, Verdict } from '../core/outcome.js';
import type { BenchListener } from '../daemon/bench-listener.js';
import type { RunSummary } from '../server/bench-feed.js';

/** Runs of which it is remembered that they were counted. */
const remembered = 50;

/** Counts what a bench does since the program was started. A `BenchListener`; bounded memory. */
export class BenchCounts implements BenchListener {
  private readonly tally = new LinkTally();
  readonly runs: Record<Verdict, number> = { pass: 0, fail: 0, inconclusive: 0 };
  readonly events = new Map<FoundEvent['kind'], number>();
  linkState: LinkPhase = 'connecting';
  private readonly counted: string[] = [];

  heard(item: Acquired): void {
    this.tally.hear(item);
    if (item.kind === 'state') this.linkState = item.state;
  }

  found(event: FoundEvent): void {
    this.events.set(event.kind, (this.events.get(event.kind) ?? 0) + 1);
  }

  runEnded(run: RunSummary): void {
    // A run that waited for the store is told a second time once it is on record.
    const identity = `${run.session} ${run.from}`;
    if (this.counted.includes(identity)) return;
    this.counted.push(identity);
    if (this.counted.length > remembered) this.counted.shift();
    this.runs[run.verdict]++;
  }

  link(): LinkCounts {
    return this.tally.counts();
  }
}
