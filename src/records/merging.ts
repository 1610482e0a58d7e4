import type { Compaction, MergeGroup } from './compaction.js';
import { mergeBlocks, type Merged } from './merge-blocks.js';
import type { StoreThread } from './store-thread.js';

export interface MergingSetup {
  readonly thread: StoreThread;
  /** Of the file that is open at this moment: another once a file was replaced. */
  readonly compaction: () => Compaction;
  /** Channels whose blocks may be merged now. */
  readonly channels: () => readonly number[];
  /** Trouble with the file. */
  readonly note: (error: unknown) => void;
  /** Something for the log. */
  readonly remark: (sentence: string) => void;
}

/** s that a channel is left alone after its blocks could not be merged, and after none were due. */
const restAfterFailure = 600;
const restWhenDone = 3;

/**
 * Merges the short blocks of a store beside its recording, one group at a time, one channel after the other. Reading and
 * replacing a group are short; the computing between them is done in a thread of its own, so that no reading has to wait
 * for it. Where there is no such thread it is done here, a group a tick.
 *
 * Merging only saves room: whatever goes wrong in it, the short blocks stay as they are.
 */
export class Merging {
  private readonly resting = new Map<number, number>();
  private place = -1;
  private open: Promise<void> | null = null;
  private ended = false;

  constructor(private readonly setup: MergingSetup) {}

  /** Call with the present time (s): looks at the next channel. Never throws. */
  tick(now: number): void {
    if (this.open !== null || this.ended) return;
    const channel = this.turn(now);
    const group = channel === null ? null : this.next(channel);
    if (group === null) {
      if (channel !== null) this.resting.set(channel, now + restWhenDone);
      return;
    }
    if (!this.setup.thread.isThere) return this.mergeHere(group, now);
    this.open = this.mergeAll(group, now).finally(() => (this.open = null));
  }

  /** Resolves once no merge is going on. */
  async settled(): Promise<void> {
    await this.open;
  }

  /** Nothing is merged from here on, not even what was begun. */
  end(): void {
    this.ended = true;
  }

  /** The next channel in turn that does not rest; `null` where all do. */
  private turn(now: number): number | null {
    const channels = this.setup.channels();
    for (let i = 0; i < channels.length; i++) {
      this.place = (this.place + 1) % channels.length;
      const channel = channels[this.place];
      if (channel !== undefined && now >= (this.resting.get(channel) ?? -Infinity)) return channel;
    }
    return null;
  }

  private next(channel: number): MergeGroup | null {
    try {
      return this.setup.compaction().next(channel);
    } catch (error) {
      this.setup.note(error);
      return null;
    }
  }

  /** A group, and what is due of its channel after it. */
  private async mergeAll(first: MergeGroup, now: number): Promise<void> {
    const compaction = this.setup.compaction();
    for (let group: MergeGroup | null = first; group !== null; group = this.next(group.channel)) {
      let merged: Merged;
      try {
        merged = await this.setup.thread.merge(group.contents);
      } catch (error) {
        if (!this.ended) this.failed(group, error, now);
        return;
      }
      if (this.ended || this.setup.compaction() !== compaction || !this.replace(group, merged)) return;
    }
  }

  private mergeHere(group: MergeGroup, now: number): void {
    try {
      this.replace(group, mergeBlocks(group.contents));
    } catch (error) {
      this.rest(group, error, now);
    }
  }

  private replace(group: MergeGroup, merged: Merged): boolean {
    try {
      return this.setup.compaction().replace(group, merged);
    } catch (error) {
      // Trouble with the disk shows at the next commit.
      this.setup.note(error);
      return false;
    }
  }

  private failed(group: MergeGroup, error: unknown, now: number): void {
    if (this.setup.thread.isThere) return this.rest(group, error, now);
    this.setup.remark(`blocks of readings are merged without a thread of their own (${wordsOf(error)})`);
  }

  private rest({ channel, rows }: MergeGroup, error: unknown, now: number): void {
    this.resting.set(channel, now + restAfterFailure);
    this.setup.remark(`${rows.length} blocks of channel ${channel} were not merged and stay as they are (${wordsOf(error)})`);
  }
}

const wordsOf = (error: unknown): string => (error instanceof Error ? error.message : String(error));
