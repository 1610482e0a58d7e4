import type { Conversion } from '../core/conversion.js';
import type { Anchor } from './channels.js';
import { commitTogether } from './commit-together.js';
import type { Lifeboat } from './lifeboat.js';
import type { StoreParts } from './store-parts.js';
import { TraceWriter } from './trace-writer.js';

export interface RecordingSetup {
  /** Of the file that is open at this moment: others once a file was replaced. */
  readonly parts: () => StoreParts;
  /** Samples of a channel that may wait in memory while the disk refuses. */
  readonly limit: number;
}

/** The channels that are recorded at this moment: one writer each, committed together. */
export class Recording {
  private readonly writers = new Map<number, TraceWriter>();
  private readonly anchors = new Map<number, Anchor>();

  constructor(private readonly setup: RecordingSetup) {}

  /** The present writer of a channel. */
  writer(channel: number): TraceWriter | undefined {
    return this.writers.get(channel);
  }

  /** Numbers of the channels that the disk takes. */
  get channelsWithoutTrouble(): number[] {
    return this.all.filter(({ trouble }) => trouble === null).map(({ channel }) => channel);
  }

  /** What writers that met damage say of it. */
  get damage(): string[] {
    return this.all.flatMap(({ trouble }) => (trouble?.code === 'damaged' ? [trouble.sentence] : []));
  }

  /** Commits what the present writer of a channel holds, before a segment is begun. @throws Error when the disk refuses */
  endSegment(channel: number): void {
    const before = this.writers.get(channel);
    if (before && !before.flush()) throw new Error(`recording goes on as before: ${before.trouble?.sentence}`);
  }

  /** A writer for a segment that was begun; the one before it must not be used again. */
  beginSegment(channel: number, segment: number, anchor: Anchor, conversion?: Conversion): TraceWriter {
    const { db, blocks } = this.setup.parts();
    const writer = new TraceWriter({ db, blocks, channel, segment, limit: this.setup.limit, commit: (asking) => this.commit(asking), ...(conversion && { conversion }) });
    this.writers.set(channel, writer);
    this.anchors.set(channel, anchor);
    return writer;
  }

  /** Whether something has waited for a second at the present time (s), or is to be tried again. */
  isOverdue(now: number): boolean {
    return this.all.some((writer) => writer.isOverdue(now));
  }

  /** Commits all that waits. @returns whether everything is safe on the disk. */
  flush(): boolean {
    return commitTogether(this.setup.parts().db, this.all);
  }

  /** Goes on in a new file, which has the channels already, with what was carried over and all that waits. */
  moveInto({ db, channels, blocks }: StoreParts, boat: Lifeboat): void {
    for (const [channel, writer] of this.writers) {
      const anchor = this.anchors.get(channel);
      if (!anchor) continue;
      const segment = channels.beginSegment(channel, anchor);
      boat.landInto(db, blocks, channel, segment);
      writer.moveTo(db, blocks, segment);
    }
  }

  /** The disk refused all: everything waits on. */
  refused(error: unknown): void {
    for (const writer of this.writers.values()) writer.refused(error);
  }

  private get all(): TraceWriter[] {
    return [...this.writers.values()];
  }

  /** What waits in a writer and, as it costs no more, in the others that are well: those in trouble are tried by `flush`. */
  private commit(asking: TraceWriter): boolean {
    commitTogether(this.setup.parts().db, this.all.filter((writer) => writer === asking || writer.trouble === null));
    return !asking.isWaiting;
  }
}
