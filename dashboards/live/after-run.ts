import type { JobClient, RunAbout } from './job-client.js';
import { make, say } from '../shared/page-parts.js';
import { shapeOf } from '../shared/shapes.js';
import { lookOfVerdict } from '../shared/verdict-looks.js';

export interface AfterRunActions {
  saidSomething(about: RunAbout): void;
  retest(assembly: string): Promise<void>;
  editJob(): void;
  close(): void;
}

const findings = ['no leakage seen', 'leakage seen', 'not inspected'] as const;
type Finding = (typeof findings)[number];
const capital = (text: string): string => text.charAt(0).toUpperCase() + text.slice(1);

/** After a run: the result of each assembly, what a person saw, the documents. */
export class AfterRun {
  readonly element = make('div', 'after-run');
  readonly #problem = make('p', 'problem');
  readonly #where = make('div', 'where');
  #chosen: Finding | null = null;

  constructor(
    private readonly about: RunAbout,
    private readonly client: JobClient,
    private readonly who: () => string,
    private readonly actions: AfterRunActions,
  ) {
    this.#problem.setAttribute('role', 'alert');
    const close = button('Close', () => actions.close(), 'close');
    const title = make('h2', '', `After run ${about.run}`);
    this.element.append(
      make('div', 'sheet-head', title, make('div', 'buttons', close)),
      this.#problem,
      make('div', 'columns', make('section', 'results', make('h3', '', 'Each assembly'), this.#results()), this.#seen(), this.#papers()),
    );
  }

  focus(): void {
    this.element.querySelector<HTMLElement>('.choices input')?.focus();
  }

  /** True where something was chosen or written that is not saved yet. */
  get entered(): boolean {
    return this.#chosen !== null || [...this.element.querySelectorAll<HTMLInputElement>('input:not([type=radio], [type=checkbox])')].some(({ value }) => value !== '');
  }

  #results(): HTMLElement {
    const { assemblies, run } = this.about;
    return make(
      'ul',
      'assemblies',
      ...assemblies.map(({ serial, result, reason, leak }) => {
        const look = result === 'retest alone' ? { shape: 'octagon-cross' as const, title: 'Retest alone', tone: 'bad' } : lookOfVerdict(result);
        const why = leak !== null && leak !== '' ? `leakage seen: ${leak}` : reason;
        const item = make('li', '', make('span', 'short', shapeOf(look.shape), `${serial ?? 'Not named'}: ${look.title}`), ...(why === null ? [] : [make('span', 'why', why)]));
        item.dataset['tone'] = look.tone;
        if (serial !== null && result !== 'pass') {
          const again = button('Retest alone', () => void this.#try(() => this.actions.retest(serial)));
          again.setAttribute('aria-label', `Retest ${serial} alone: its job for the next run, tied to run ${run}`);
          item.append(again);
        }
        return item;
      }),
    );
  }

  /** What was seen: chosen first, saved with a second touch, so that a glove that slips states nothing. */
  #seen(): HTMLElement {
    const { visual, said } = this.about;
    const choices = make(
      'fieldset',
      'choices',
      make('legend', '', 'What was seen, with the bench vented?'),
      ...findings.map((finding) => {
        const input = document.createElement('input');
        input.type = 'radio';
        input.name = 'finding';
        input.value = finding;
        input.addEventListener('change', () => this.#choose(finding));
        return make('label', '', input, capital(finding));
      }),
    );
    const reason = field('why', 'Why is it changed?');
    const stated = said.findLast(({ kind }) => kind === 'visual-finding');
    return make(
      'section',
      'seen',
      make('h3', '', 'Visual finding'),
      make('p', 'stated', visual === null || stated === undefined ? 'Nobody has stated yet what was seen.' : `${capital(visual)}. Stated by ${stated.who}.`),
      choices,
      this.#where,
      ...(visual === null ? [] : [reason]),
      button('Save what was seen', () => void this.#try(() => this.#save()), 'strong'),
    );
  }

  #choose(finding: Finding): void {
    this.#chosen = finding;
    if (finding !== 'leakage seen') return this.#where.replaceChildren();
    const serials = this.about.assemblies.flatMap(({ serial }) => serial ?? []);
    this.#where.replaceChildren(
      ...serials.map((serial) => {
        const tick = document.createElement('input');
        tick.type = 'checkbox';
        tick.value = serial;
        const place = input('at');
        place.placeholder = 'where on it';
        place.setAttribute('aria-label', `Where on ${serial}`);
        place.addEventListener('input', () => (tick.checked = tick.checked || place.value !== ''));
        return make('div', 'leak', make('label', '', tick, serial), place);
      }),
      field('elsewhere', serials.length === 0 ? 'Where?' : 'Somewhere else, or not known which'),
    );
  }

  async #save(): Promise<void> {
    if (this.#chosen === null) throw new Error('Choose what was seen first.');
    const leaks = [...this.#where.querySelectorAll('.leak')].flatMap((row) => {
      const [tick, place] = row.querySelectorAll('input');
      return tick?.checked === true ? [{ assembly: tick.value, ...(place !== undefined && place.value.trim() !== '' && { at: place.value }) }] : [];
    });
    const elsewhere = this.#where.querySelector<HTMLInputElement>('input[name=elsewhere]')?.value.trim() ?? '';
    const entry = { kind: 'visual-finding', finding: this.#chosen, ...(leaks.length > 0 && { leaks }), ...(elsewhere !== '' && { at: elsewhere }) };
    const why = this.element.querySelector<HTMLInputElement>('input[name=why]')?.value ?? '';
    this.actions.saidSomething(await this.client.say(this.about.run, entry, this.who(), why));
  }

  #papers(): HTMLElement {
    const { run, job, document: paper, assemblies } = this.about;
    const name = paper.kind === 'report' ? 'report' : 'certificate';
    const file = (path: string) => this.client.document(run, path);
    const serials = assemblies.flatMap(({ serial }) => serial ?? []);
    return make(
      'section',
      'papers',
      make('h3', '', 'Documents'),
      make('p', paper.missing.length > 0 ? 'lacking' : 'stated', standing(paper)),
      make('p', 'judged-by', judgedByWords(this.about)),
      make('div', 'links', link(`Save ${name}`, file('certificate.pdf'), 'strong', true), link('Open to print', `${file('certificate.pdf')}?view=1`)),
      button(job === null ? 'Add job details' : 'Change job details', () => this.actions.editJob()),
      make(
        'details',
        'more',
        make('summary', '', 'More: labels, one each, data, order'),
        make(
          'div',
          'links',
          ...(serials.length > 1 ? serials.map((serial) => link(`${capital(name)} ${serial}`, `${file('certificate.pdf')}?assembly=${encodeURIComponent(serial)}`, '', true)) : []),
          link('Label 58 mm', `${file('label.pdf')}?width=58&view=1`),
          link('Label 80 mm', `${file('label.pdf')}?width=80&view=1`),
          link('Label as text', file('label.txt'), '', true),
          link('Findings (CSV)', file('record.csv'), '', true),
          link('Trace (CSV)', file('trace.csv'), '', true),
          link('Record (JSON)', file('record.json'), '', true),
          ...(job?.order === undefined
            ? []
            : [link(`Order ${job.order} (PDF)`, this.client.orderDocument(job.order, 'order.pdf'), '', true), link(`Order ${job.order} (ZIP)`, this.client.orderDocument(job.order, 'order.zip'), '', true)]),
        ),
      ),
    );
  }

  async #try(work: () => Promise<void>): Promise<void> {
    try {
      await work();
    } catch (error) {
      say(this.#problem, error instanceof Error ? error.message : String(error));
      this.#problem.scrollIntoView({ block: 'nearest' });
    }
  }
}

function standing({ kind, sentence }: RunAbout['document']): string {
  if (kind === 'certificate') return 'Complete: it can be handed over.';
  return kind === 'provisional' ? `Provisional, ${sentence}.` : 'Not passed: a report, no certificate.';
}

function button(text: string, act: () => void, name = ''): HTMLButtonElement {
  const element = make('button', name, text) as HTMLButtonElement;
  element.type = 'button';
  element.addEventListener('click', act);
  return element;
}

function link(text: string, address: string, name = '', save = false): HTMLElement {
  const element = make('a', `button ${name}`.trim(), text);
  element.setAttribute('href', address);
  if (save) element.setAttribute('download', '');
  else {
    element.setAttribute('target', '_blank');
    element.setAttribute('rel', 'noopener');
  }
  return element;
}

function input(name: string): HTMLInputElement {
  const element = document.createElement('input');
  element.name = name;
  element.autocomplete = 'off';
  return element;
}

const field = (name: string, label: string): HTMLElement => make('label', 'field', make('span', '', label), input(name));

/** By which versions the run was judged. */
function judgedByWords({ judgedBy: { plan, thresholds } }: RunAbout): string {
  return [plan === null ? 'Judged without a plan' : `Plan: ${plan}`, thresholds === null ? '' : `thresholds: ${thresholds}`].filter((part) => part !== '').join('; ');
}
