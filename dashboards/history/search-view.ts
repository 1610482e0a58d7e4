import type { PressureUnit } from '../../src/core/units.js';
import type { FoundRun, FoundRuns } from '../../src/server/history-answers.js';
import { inUnit, pressureText } from '../shared/figures.js';
import { make, say } from '../shared/page-parts.js';
import type { HistoryClient } from './history-client.js';
import { searchFields, writeAddress, type PageAddress, type SearchField } from './page-address.js';
import { button, dayAndTime, fileLink, link, row, select, table, verdictMark } from './page-elements.js';

const labels: Readonly<Record<SearchField, string>> = {
  text: 'Words', order: 'Order', serial: 'Serial number', hose: 'Hose', plan: 'Plan', result: 'Result', from: 'From', to: 'To',
};
const results = [['', 'any'], ['pass', 'pass'], ['fail', 'fail'], ['inconclusive', 'inconclusive'], ['open', 'going on']] as const;
const columns = ['Run', 'Result', 'When', 'Plan', 'Order', 'Hose', 'Assemblies', 'Peak', 'Loss in hold', 'Compare'];

/** The search for runs and what it found, page by page; a search that takes long shows how far it has come. */
export class SearchView {
  readonly element = make('div', 'search');
  readonly #form = make('form', 'criteria') as HTMLFormElement;
  readonly #progress = make('p', 'progress');
  readonly #list = make('div', 'found');
  readonly #more: HTMLButtonElement;
  readonly #compare = make('p', 'compare-bar');
  readonly #rows: FoundRun[] = [];
  readonly #chosen = new Set<number>();
  readonly #stop = new AbortController();
  #next: number | null = null;
  #looked = 0;

  constructor(
    private readonly client: HistoryClient,
    private readonly address: PageAddress,
    private readonly unit: PressureUnit,
    private readonly go: (address: PageAddress) => void,
  ) {
    this.#progress.setAttribute('role', 'status');
    this.#more = button('More runs', () => void this.#search());
    this.#more.hidden = true;
    this.#compare.setAttribute('role', 'status');
    this.#fillForm();
    this.element.append(make('h2', 'unseen', 'Search for runs'), this.#form, this.#progress, this.#compare, this.#list, this.#more);
    void this.#search();
  }

  /** No longer shown. */
  leave(): void {
    this.#stop.abort();
  }

  #fillForm(): void {
    const { search } = this.address;
    this.#form.setAttribute('role', 'search');
    const fields = searchFields.map((field) => {
      if (field === 'result') return select(field, labels[field], results, search.result ?? '');
      const input = document.createElement('input');
      input.name = field;
      input.autocomplete = 'off';
      input.maxLength = 200;
      if (field === 'from' || field === 'to') input.type = 'date';
      input.value = search[field] ?? '';
      return make('label', field === 'text' ? 'field words' : 'field', make('span', '', labels[field]), input);
    });
    const submit = make('button', 'strong', 'Search') as HTMLButtonElement;
    submit.type = 'submit';
    const clear = button('Clear', () => this.go({ ...this.address, search: {} }));
    this.#form.append(make('div', 'fields', ...fields), make('div', 'buttons', submit, clear, fileLink('Save as CSV', this.client.table(search))));
    this.#form.addEventListener('submit', (event) => {
      event.preventDefault();
      const given = new FormData(this.#form);
      const filled = searchFields.flatMap((field) => {
        const value = given.get(field);
        return typeof value === 'string' && value.trim() !== '' ? [[field, value.trim()] as const] : [];
      });
      this.go({ ...this.address, search: Object.fromEntries(filled) });
    });
  }

  /** Asks until a page is full or all is looked through; each answer is shown as it comes. */
  async #search(): Promise<void> {
    this.#more.hidden = true;
    const wanted = this.#rows.length + 50;
    try {
      do {
        const answer = await this.client.runs(this.address.search, this.#next, this.#stop.signal);
        this.#rows.push(...answer.runs);
        this.#looked += answer.looked;
        this.#next = answer.next;
        this.#show(answer, this.#next !== null && this.#rows.length < wanted);
      } while (this.#next !== null && this.#rows.length < wanted);
    } catch (error) {
      if (this.#stop.signal.aborted) return;
      say(this.#progress, error instanceof Error ? error.message : String(error));
      this.#progress.classList.add('problem');
    }
  }

  #show({ onRecord, next }: FoundRuns, searching: boolean): void {
    const count = this.#rows.length;
    const found = `${count === 0 ? 'No' : count} ${count === 1 ? 'run' : 'runs'}`;
    if (searching) say(this.#progress, `Searching: ${found.toLowerCase()} so far, ${this.#looked} of ${onRecord} looked through.`);
    else if (onRecord === 0) say(this.#progress, 'No run is on record yet. The first rise of the pressure starts one.');
    else if (count === 0) say(this.#progress, `No run fits; ${onRecord} are on record. Take a word away, or write less of it: words are found from their beginning.`);
    else say(this.#progress, next === null ? `${found} found, of ${onRecord} on record.` : `The newest ${count} that fit, of ${onRecord} on record.`);
    this.#more.hidden = next === null || searching;
    this.#list.replaceChildren(...(count === 0 ? [] : [table('Runs found, the newest first', columns, this.#rows.map((run) => this.#row(run)), 'runs-table')]));
    this.#sayChosen();
  }

  #row(found: FoundRun): HTMLElement {
    const { run, result, wall, plan, order, customer, hose, assemblies, peak_bar, drop_bar, reason, retestOf } = found;
    const tick = document.createElement('input');
    tick.type = 'checkbox';
    tick.checked = this.#chosen.has(run);
    tick.setAttribute('aria-label', `Compare run ${run}`);
    tick.addEventListener('change', () => {
      if (tick.checked) this.#chosen.add(run);
      else this.#chosen.delete(run);
      this.#sayChosen();
    });
    const name = result === null ? make('span', '', String(run)) : this.#openLink(String(run), run);
    if (result !== null) name.setAttribute('aria-label', `Run ${run}`);
    const shown = (bar: number | null): string => (bar === null ? '–' : pressureText(bar, this.unit, null));
    const why = reason === null ? [] : [make('span', 'why', inUnit(reason, this.unit))];
    const item = row([
      ['Run', name],
      ['Result', make('span', 'result', verdictMark(result), ...why)],
      ['When', dayAndTime(wall)],
      ['Plan', plan ?? 'none'],
      ['Order', [order, customer].filter((text) => text !== null).join(', ') || '–'],
      ['Hose', hose ?? '–'],
      ['Assemblies', `${serials(assemblies)}${retestOf === null ? '' : ` (retest of run ${retestOf})`}`],
      ['Peak', shown(peak_bar)],
      ['Loss in hold', shown(drop_bar)],
      ['Compare', result === null ? '' : make('label', 'tick', tick)],
    ]);
    return item;
  }

  #openLink(text: string, run: number, other: number | null = null): HTMLAnchorElement {
    const address: PageAddress = { ...this.address, view: 'run', run, with: other, zoom: null };
    const element = link(text, writeAddress(address));
    element.addEventListener('click', (event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      this.go(address);
    });
    return element;
  }

  #sayChosen(): void {
    const [a, b] = [...this.#chosen].sort((x, y) => x - y);
    this.#compare.hidden = a === undefined;
    if (a === undefined) return;
    if (b === undefined) return this.#compare.replaceChildren(`Run ${a} is ticked: tick another one to compare them.`);
    if (this.#chosen.size > 2) return this.#compare.replaceChildren('Two runs can be compared: untick one.');
    const compare = this.#openLink(`Compare runs ${a} and ${b}`, b, a);
    compare.className = 'button strong';
    this.#compare.replaceChildren(compare);
  }
}

/** `H-1, H-2 and 4 more` */
export function serials(assemblies: readonly string[]): string {
  if (assemblies.length === 0) return '–';
  return assemblies.length <= 3 ? assemblies.join(', ') : `${assemblies.slice(0, 2).join(', ')} and ${assemblies.length - 2} more`;
}
