import type { PressureUnit } from '../../src/core/units.js';
import type { RunChange } from '../../src/tuning/run-change.js';
import { part } from '../shared/page-parts.js';
import { FlipPanel, summaryOf, type FlipRow } from './flip-panel.js';
import { LibraryCheck } from './library-check.js';
import type { LibraryTrial } from './library-stream.js';
import type { ReadingClient } from './reading-client.js';
import type { Tried } from './reading-messages.js';

/** What the desk asks of the page. */
export interface FlipView {
  readonly unit: PressureUnit;
  /** Ticked runs that are loaded. */
  readonly ids: readonly string[];
  readonly tried: Tried;
  /** The same, as the bench takes it. */
  readonly trial: LibraryTrial;
  titleOf(id: string): string;
  /** s, the zero of shown times; `null` where it is not loaded. */
  startOf(id: string): number | null;
  show(id: string): void;
}

const unasked = 'Tick runs on the left, or take the whole library.';
const soFar = 'None so far.';

/** What the table says while it is empty: an answer looks otherwise than a question that was never put. */
function noRowsOf(check: LibraryCheck | null): string {
  if (check === null) return 'Judge all of them to see which come out otherwise.';
  if (check.going) return soFar;
  return check.complete ? 'None would come out otherwise.' : 'None of those that were judged.';
}

/** What would flip: of the ticked runs here in the page, of the whole library on the bench. */
export class FlipDesk {
  readonly truths = new Map<string, FlipRow['truth']>();
  private readonly changes = new Map<string, RunChange>();
  private sweeping: { done: number; of: number } | null = null;
  private library: { readonly check: LibraryCheck; readonly trial: LibraryTrial } | null = null;
  private scope: 'picked' | 'library' = 'picked';
  private readonly panel: FlipPanel;

  constructor(private readonly base: string, private readonly client: ReadingClient, private readonly view: FlipView) {
    this.panel = new FlipPanel((id) => view.show(id));
    for (const radio of document.querySelectorAll<HTMLInputElement>('input[name="scope"]')) {
      radio.addEventListener('change', () => {
        this.scope = radio.value === 'library' ? 'library' : 'picked';
        this.draw();
      });
    }
    part('judge-library').addEventListener('click', () => void this.judgeAll());
    part('cancel').addEventListener('click', () => this.cancel());
  }

  /** Reads the ticked runs again. */
  sweep(): void {
    const { ids, tried } = this.view;
    for (const id of [...this.changes.keys()]) if (!ids.includes(id)) this.changes.delete(id);
    this.sweeping = ids.length === 0 ? null : { done: 0, of: ids.length };
    if (ids.length === 0) this.client.stopSweep();
    else this.client.sweep(ids, tried);
    this.draw();
  }

  swept(id: string, change: RunChange, done: number, of: number): void {
    this.changes.set(id, change);
    this.sweeping = done === of ? null : { done, of };
    this.draw();
  }

  draw(): void {
    const { unit } = this.view;
    const whole = this.scope === 'library';
    part('judge-library').hidden = !whole;
    if (whole) {
      const { library } = this;
      const check = library?.check ?? null;
      const rows = check?.rows ?? [];
      return this.panel.draw(rows, unit, this.libraryWords(rows), check?.going === true ? { done: check.done, of: check.of } : null, noRowsOf(check));
    }
    const rows = this.view.ids.flatMap((id): FlipRow[] => {
      const change = this.changes.get(id);
      return change === undefined ? [] : [{ id, title: this.view.titleOf(id), change, truth: this.truths.get(id) ?? null, start: this.view.startOf(id), byThresholds: true }];
    });
    this.panel.draw(rows, unit, this.sweeping === null ? summaryOf(rows) : `${this.sweeping.done} of ${this.sweeping.of} judged`, this.sweeping, this.sweeping === null ? unasked : soFar);
  }

  private libraryWords(rows: readonly FlipRow[]): string {
    const { library } = this;
    if (library === null) {
      const { of } = this.view.trial;
      return `${of === undefined ? 'Every run on record' : `Every run on record under the plan '${of}'`}, judged on the bench with what stands here.`;
    }
    const { check, trial } = library;
    if (check.going) return `${check.done} of ${check.of} judged`;
    // A table must not be taken for what stands here now.
    const old = JSON.stringify(trial) === JSON.stringify(this.view.trial) ? '' : ' Something was changed since: judge them again.';
    return `${check.ended ?? ''} ${summaryOf(rows)}${old}`.trim();
  }

  private async judgeAll(): Promise<void> {
    this.library?.check.stop();
    const { trial } = this.view;
    const check = new LibraryCheck(this.base, (id) => this.view.startOf(id), () => {
      if (this.library?.check === check) this.draw();
    });
    this.library = { check, trial };
    this.draw();
    await check.judge(trial);
  }

  private cancel(): void {
    if (this.scope === 'library') return this.library?.check.stop();
    this.client.stopSweep();
    this.sweeping = null;
    this.draw();
  }
}
