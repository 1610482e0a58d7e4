import type { Acquired } from '../acquisition/acquire.js';
import type { LinkPhase } from '../acquisition/link-machine.js';
import { LinkTally, type LinkCounts } from '../acquisition/link-tally.js';
import type { FoundEvent, Verdict } from '../core/outcome.js';
import type { BenchListener } from '../daemon/bench-listener.js';
import type { RunSummary } from '../server/bench-feed.js';

/** A channel and the link that brings its readings; several may share one. */
export interface CountedChannel {
  readonly channel: string;
  readonly link: string;
}

/** What is known of one channel. */
interface Count {
  readonly channel: string;
  readonly link: string;
  readonly tally: LinkTally;
  /** s on the clock of the watch: when its newest sample was heard; `null` before the first. */
  heardAt: number | null;
}

/** Runs of which it is remembered that they were counted. */
const remembered = 50;

/** Counts what a bench does since the program was started. A `BenchListener`; bounded memory. */
export class BenchCounts implements BenchListener {
  readonly runs: Record<Verdict, number> = { pass: 0, fail: 0, inconclusive: 0 };
  readonly events = new Map<FoundEvent['kind'], number>();
  private readonly counts: readonly Count[];
  private readonly byChannel: ReadonlyMap<string, Count>;
  private readonly states = new Map<string, LinkPhase>();
  private readonly counted: string[] = [];

  constructor(
    channels: readonly CountedChannel[],
    /** s, monotonic. */
    private readonly now: () => number = () => performance.now() / 1000,
  ) {
    this.counts = channels.map(({ channel, link }) => ({ channel, link, tally: new LinkTally(), heardAt: null }));
    this.byChannel = new Map(this.counts.map((count) => [count.channel, count]));
  }

  heard(item: Acquired): void {
    if (item.kind === 'sample') {
      const count = this.byChannel.get(item.channel);
      if (count === undefined) return;
      count.tally.hear(item);
      count.heardAt = this.now();
      return;
    }
    // What a link says concerns all that it carries.
    for (const { link, tally } of this.counts) if (link === item.link) tally.hear(item);
    if (item.kind === 'state') this.states.set(item.link, item.state);
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

  /** Each channel as it stands; `age` is s since its newest sample came, `null` before the first. */
  channels(): { readonly channel: string; readonly link: LinkCounts; readonly state: LinkPhase; readonly age: number | null }[] {
    return this.counts.map(({ channel, link, tally, heardAt }) => ({
      channel, link: tally.counts(), state: this.states.get(link) ?? 'connecting', age: heardAt === null ? null : this.now() - heardAt,
    }));
  }
}
