import type { Verdict } from '../../src/core/outcome.js';
import type { PressureUnit } from '../../src/core/units.js';
import type { TuningRun } from '../../src/server/tuning-routes.js';
import { gravity, type RunChange } from '../../src/tuning/run-change.js';
import { wrongVerdicts } from '../../src/tuning/wrong-verdicts.js';
import { inUnit } from '../shared/figures.js';
import { make, part, say } from '../shared/page-parts.js';
import { shapeOf } from '../shared/shapes.js';
import { lookOfVerdict } from '../shared/verdict-looks.js';
import { concernWords, onShownClock, verdictWords } from './run-words.js';

/** A run and how it comes out otherwise. */
export interface FlipRow {
  readonly id: string;
  readonly title: string;
  readonly change: Pick<RunChange, 'concern' | 'before' | 'after' | 'findings'>;
  readonly truth: TuningRun['truth'];
  /** s: the zero of times on the plot; `null` where the run is not loaded. */
  readonly start: number | null;
  /** False where it differs because another version of the program had judged it. */
  readonly byThresholds: boolean;
}

/** New passes first, then new fails, then what is no longer decided; of equals those first that somebody knows to be otherwise. */
export function inOrder(rows: readonly FlipRow[]): FlipRow[] {
  return rows
    .map((row, i) => ({ row, i }))
    .sort((a, b) => gravity(a.row.change) - gravity(b.row.change) || Number(contradicts(b.row)) - Number(contradicts(a.row)) || a.i - b.i)
    .map(({ row }) => row);
}

/** True where the verdict would be wrong by what somebody knows of the assemblies. */
export const contradicts = ({ change: { after }, truth }: Pick<FlipRow, 'change' | 'truth'>): boolean =>
  truth !== null && wrongVerdicts[truth].includes(after.verdict);

/** `2 would pass now, 1 would fail now, 7 stay as they are` */
export function summaryOf(rows: readonly FlipRow[]): string {
  const count = (...concerns: RunChange['concern'][]): number => rows.filter(({ change }) => concerns.includes(change.concern)).length;
  const said = [
    [count('new pass'), 'would pass now'], [count('new fail'), 'would fail now'], [count('no longer decided'), 'no longer decided'],
    [count('findings', 'figures'), 'with the same verdict and other findings or figures'], [count('none'), 'as before'],
  ] as const;
  const told = said.filter(([n]) => n > 0).map(([n, words]) => `${n} ${words}`);
  return told.length === 0 ? '' : `${told.join(', ')}.`;
}

/** The table of what would flip. */
export class FlipPanel {
  constructor(private readonly showRun: (id: string) => void) {}

  draw(rows: readonly FlipRow[], unit: PressureUnit, words: string, progress: { readonly done: number; readonly of: number } | null, none: string): void {
    const bar = part('progress') as HTMLProgressElement;
    bar.hidden = progress === null;
    if (progress !== null) {
      bar.max = Math.max(progress.of, 1);
      bar.value = progress.done;
    }
    part('cancel').hidden = progress === null;
    say(part('flip-words'), words);
    const focused = document.activeElement instanceof HTMLElement ? document.activeElement.dataset['flip'] : undefined;
    part('flips').replaceChildren(...(rows.length === 0 ? [this.nothing(none)] : inOrder(rows).map((row) => this.row(row, unit))));
    if (focused !== undefined) for (const element of part('flips').querySelectorAll<HTMLElement>('[data-flip]')) if (element.dataset['flip'] === focused) element.focus();
  }

  private nothing(words: string): HTMLElement {
    const cell = make('td', 'none', words);
    cell.setAttribute('colspan', '6');
    return make('tr', '', cell);
  }

  private row(row: FlipRow, unit: PressureUnit): HTMLElement {
    const { change: { concern, before, after, findings }, truth } = row;
    const name = make('button', 'link', row.title);
    name.setAttribute('type', 'button');
    name.dataset['flip'] = row.id;
    name.addEventListener('click', () => this.showRun(row.id));
    const because = after.because?.sentence ?? findings[0]?.sentence ?? (concern === 'none' ? '' : before.because?.sentence) ?? '';
    const wrong = contradicts(row);
    const known = make('td', wrong ? 'wrong' : '', truth ?? '', ...(wrong ? [make('span', 'mark', 'verdict would be wrong')] : []));
    const what = make('th', '', concernWords[concern], ...(row.byThresholds ? [] : [make('span', 'small', ' (by another version of the program)')]));
    what.setAttribute('scope', 'row');
    const element = make('tr', concern.replaceAll(' ', '-'), what, make('td', '', name), make('td', '', word(before.verdict)), make('td', '', word(after.verdict)), make('td', 'because', inUnit(row.start === null ? because : onShownClock(because, row.start), unit)), known);
    element.dataset['run'] = row.id;
    element.dataset['concern'] = concern;
    return element;
  }
}

function word(verdict: Verdict): HTMLElement {
  const { shape, tone } = lookOfVerdict(verdict);
  return make('span', `verdict-word ${tone}`, shapeOf(shape), verdictWords[verdict]);
}
