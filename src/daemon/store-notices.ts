import type { Logger } from 'pino';
import type { Thresholds } from '../core/thresholds.js';
import type { Notice, Store } from '../records/store.js';
import type { NoticeBoard } from './notice-board.js';
import { recordLeftBehind } from './record-left-behind.js';
import type { RecordedChannel } from './recorded-channels.js';

export interface StoreNoticesSetup {
  readonly board: NoticeBoard;
  readonly log: Logger;
  /** Name of the bench whose runs are recorded. */
  readonly bench: string;
  /** Hears what nobody expected. */
  readonly trouble: (error: unknown) => void;
}

/** Tells people and the log of the store: what was found when it was opened, a new file, a disk that refuses. */
export class StoreNotices {
  constructor(private readonly setup: StoreNoticesSetup) {}

  /**
   * The store found something when it was opened; runs that were going on in a damaged file are put on record.
   * @param thresholds in the place of those that cannot be read any more
   * @param now s on the store's clock
   */
  opened({ code, sentence, file, runs = [] }: Notice, store: Store, channels: ReadonlyMap<string, RecordedChannel>, thresholds: Thresholds, now: number): void {
    const { bench, trouble } = this.setup;
    let recorded = '';
    try {
      const [first] = channels.values();
      const here = runs.filter((run) => run.bench === bench);
      recorded = recordLeftBehind(store, { file, runs: here }, (name) => (channels.get(name) ?? first)?.id ?? 0, thresholds, now);
    } catch (error) {
      trouble(error);
    }
    this.setup.log.error({ code }, `${sentence}${recorded}`);
    this.setup.board.put(code, 'alarm', `${sentence}${recorded}`);
  }

  /** A new file was begun while the store was in use; `runs` (numbers in the file before) were going on in it. */
  replaced({ code, sentence }: Notice, runs: readonly number[]): void {
    const open = runs.length === 0 ? '' : `. The run that was going on (${runs.join(', ')} there) goes on in the new one and cannot pass`;
    this.setup.log.error({ code, runs }, sentence);
    this.setup.board.put(code, 'alarm', `${sentence}${open}`);
  }

  /** Why nothing can be written at present; `null` once everything is on the disk again. */
  recording(refusal: string | null): void {
    const { board, log } = this.setup;
    if (refusal === null) {
      board.clear('store');
      log.info('recording again');
    } else {
      board.put('store', 'alarm', `not recording: ${refusal}`);
      log.error(`not recording: ${refusal}`);
    }
  }
}
