import { lookOfVerdict } from '../shared/verdict-looks.js';
import { fill, make, part, say } from '../shared/page-parts.js';
import { shapeOf } from '../shared/shapes.js';
import { dayTime } from '../shared/time-words.js';
import type { Verdict } from '../../src/core/outcome.js';

/** A run that may be tried on, as the list shows it. */
export interface TrayRun {
  readonly id: string;
  readonly title: string;
  /** ms since 1970; `null` for a file. */
  readonly wall: number | null;
  /** As on record; `null` where it is not known yet. */
  readonly verdict: Verdict | null;
  readonly about: string;
  readonly readable: boolean;
}

export interface TrayActs {
  show(id: string): void;
  pick(ids: readonly string[], on: boolean): void;
  pickOnly(ids: readonly string[]): void;
  older(): void;
}

/** The list of runs: a tick takes one into the table of flips, its name shows it on the plot. */
export class RunTray {
  private runs: readonly TrayRun[] = [];

  constructor(private readonly acts: TrayActs) {
    part('pick-ten').addEventListener('click', () => acts.pickOnly(this.runs.filter(({ readable }) => readable).slice(0, 10).map(({ id }) => id)));
    part('pick-none').addEventListener('click', () => acts.pickOnly([]));
    part('older').addEventListener('click', () => acts.older());
  }

  draw(runs: readonly TrayRun[], picked: ReadonlySet<string>, loading: ReadonlySet<string>, shown: string | null, more: boolean): void {
    this.runs = runs;
    part('older').hidden = !more;
    const many = picked.size;
    say(part('picked'), loading.size > 0 ? `${loading.size} still loading` : many === 0 ? 'none ticked' : `${many} ticked`);
    const key = JSON.stringify([runs.map(({ id, verdict, about, readable }) => [id, verdict, about, readable]), [...picked], [...loading], shown]);
    const focused = document.activeElement instanceof HTMLElement ? document.activeElement.dataset['key'] : undefined;
    fill(part('runs'), key, () => (runs.length === 0 ? [make('li', 'none', 'No run is on record yet. Traces from files can be tried below.')] : runs.map((run) => this.row(run, picked.has(run.id), loading.has(run.id), run.id === shown))));
    if (focused !== undefined) for (const element of part('runs').querySelectorAll<HTMLElement>('[data-key]')) if (element.dataset['key'] === focused) element.focus();
  }

  private row(run: TrayRun, picked: boolean, loading: boolean, shown: boolean): HTMLElement {
    const tick = document.createElement('input');
    tick.type = 'checkbox';
    tick.checked = picked;
    tick.disabled = !run.readable;
    tick.dataset['key'] = `tick ${run.id}`;
    tick.setAttribute('aria-label', `Try on ${run.title}`);
    tick.addEventListener('change', () => this.acts.pick([run.id], tick.checked));
    const name = make('button', 'name', make('span', 'title', run.title), ...(run.wall === null ? [] : [' ', make('span', 'when', dayTime(run.wall))]));
    name.setAttribute('type', 'button');
    name.dataset['key'] = `show ${run.id}`;
    name.setAttribute('aria-pressed', String(shown));
    if (!run.readable) name.setAttribute('disabled', '');
    name.addEventListener('click', () => this.acts.show(run.id));
    const look = run.verdict === null ? null : lookOfVerdict(run.verdict);
    const word = make('span', `verdict-word ${look?.tone ?? 'quiet'}`, ...(look === null ? [] : [shapeOf(look.shape)]), loading ? 'loading' : !run.readable ? 'readings given up' : (look?.title ?? ''));
    const row = make('li', 'run', make('label', 'tick', tick), name, make('p', 'about', word, ` ${run.about}`));
    row.dataset['run'] = run.id;
    return row;
  }
}
