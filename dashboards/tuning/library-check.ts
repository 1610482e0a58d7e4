import type { FlipRow } from './flip-panel.js';
import { judgeLibrary, type LibraryTrial } from './library-stream.js';
import { Refusal } from './tuning-api.js';

/** The whole library of a bench, judged there with thresholds on trial; one at a time. */
export class LibraryCheck {
  rows: FlipRow[] = [];
  done = 0;
  of = 0;
  /** What came of it, as a sentence; `null` while it goes on. */
  ended: string | null = null;
  /** All of them were judged. */
  complete = false;
  private readonly stopping = new AbortController();

  /** @param changed called at each line that comes. @param startOf s, the zero of shown times of a run; `null` where it is not loaded */
  constructor(private readonly base: string, private readonly startOf: (id: string) => number | null, private readonly changed: () => void) {}

  get going(): boolean {
    return this.ended === null;
  }

  stop(): void {
    this.stopping.abort();
  }

  async judge(trial: LibraryTrial): Promise<void> {
    let unread = '';
    try {
      for await (const line of judgeLibrary(this.base, trial, this.stopping.signal)) {
        if (line.line === 'begin') this.of = line.total;
        else if (line.line === 'progress') [this.done, this.of] = [line.done, line.total];
        else if (line.line === 'run') {
          // The bench finds plans by the beginning of their name.
          if (trial.of !== undefined && line.otherPlan !== null) continue;
          const id = `run ${line.key}`;
          this.rows.push({ id, title: line.name.replace(/^r/, 'R'), change: line.change, truth: line.labels.truth, start: this.startOf(id), byThresholds: !line.byProgram });
        } else if (line.line === 'end') {
          this.done = this.of;
          const { unread: count = 0, problems } = line.summary;
          if (count > 0) unread = ` ${count} could not be read: ${problems?.[0] ?? 'their readings are gone'}.`;
        }
        this.changed();
      }
      this.complete = true;
      this.ended = `All ${this.of} runs judged.${unread}`;
    } catch (error) {
      this.ended = this.stopping.signal.aborted ? `Stopped after ${this.done} of ${this.of} runs.` : error instanceof Refusal ? error.message : 'The bench stopped answering; what came is shown.';
    }
    this.changed();
  }
}
