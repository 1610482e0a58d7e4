import { auditKinds } from '../../src/server/audit-answers.js';
import { button, fileLink, select } from '../history/page-elements.js';
import { make, part, say } from '../shared/page-parts.js';
import { SetupClient } from '../shared/setup-client.js';
import { changeItem } from './change-item.js';
import { ChangesClient, changesFields, NotToldError, type AuditChain, type AuditPage, type ChangesField, type ChangesSearch } from './changes-client.js';

const labels: Readonly<Record<ChangesField, string>> = { text: 'Words', who: 'Who', kind: 'About', from: 'From', to: 'To' };
/** Entries of one page. */
const pageful = 50;

/** Who changed what at one bench: searched page by page, and whether all of it is as it was sealed. */
export class ChangesPage {
  readonly #client: ChangesClient;
  readonly #setup: SetupClient;
  readonly #people = make('datalist', '');
  readonly #names = new Set<string>();
  #search: ChangesSearch = {};
  #next: number | null = null;
  #shown = 0;
  #looked = 0;
  #asked = 0;

  constructor(private readonly bench: string) {
    this.#client = new ChangesClient(bench);
    this.#setup = new SetupClient(bench);
    this.#people.id = 'people';
    say(part('bench'), bench);
    part('older').addEventListener('click', () => void this.#more(true));
    part('criteria').addEventListener('submit', (event) => {
      event.preventDefault();
      this.#go(readForm(part('criteria') as HTMLFormElement));
    });
    addEventListener('popstate', () => this.#begin());
    this.#begin();
    void this.#checkChain();
  }

  #go(search: ChangesSearch): void {
    const query = new URLSearchParams({ ...(new URLSearchParams(location.search).has('bench') && { bench: this.bench }), ...search }).toString();
    history.pushState(null, '', query === '' ? location.pathname : `?${query}`);
    this.#begin();
  }

  /** What is searched for stands in the address: it can be kept, sent, and gone back from. */
  #begin(): void {
    const given = new URLSearchParams(location.search);
    this.#search = Object.fromEntries(changesFields.flatMap((field) => (given.get(field) ? [[field, given.get(field)]] : [])));
    this.#drawForm();
    [this.#next, this.#shown, this.#looked] = [null, 0, 0];
    part('entries').replaceChildren();
    void this.#more(false);
  }

  #drawForm(): void {
    const fields = changesFields.map((field) => {
      const value = this.#search[field] ?? '';
      if (field === 'kind') return select(field, labels[field], [['', 'anything'], ...auditKinds.map((kind) => [kind, kind] as const)], value);
      const input = document.createElement('input');
      input.name = field;
      input.value = value;
      input.autocomplete = 'off';
      input.maxLength = 200;
      if (field === 'from' || field === 'to') input.type = 'date';
      if (field === 'who') input.setAttribute('list', 'people');
      return make('label', field === 'text' ? 'field words' : 'field', make('span', '', labels[field]), input);
    });
    const submit = make('button', 'strong', 'Search');
    submit.setAttribute('type', 'submit');
    part('criteria').replaceChildren(
      make('div', 'fields', ...fields), this.#people,
      make('div', 'buttons', submit, button('Clear', () => this.#go({})), fileLink('Save as CSV', this.#client.table(this.#search))),
    );
  }

  /** Asks until a page is full or all is looked through; each answer is shown as it comes. */
  async #more(byHand: boolean): Promise<void> {
    const asked = ++this.#asked;
    part('older').hidden = true;
    const wanted = this.#shown + pageful;
    const first = this.#shown;
    try {
      do {
        const page = await this.#client.page(this.#search, this.#next, wanted - this.#shown);
        if (asked !== this.#asked) return;
        this.#take(page, page.before !== null && this.#shown + page.entries.length < wanted);
      } while (this.#next !== null && this.#shown < wanted);
      say(part('problem'), '');
    } catch (error) {
      if (asked === this.#asked) this.#refused(error);
    }
    // So that the keyboard and a screen reader go on with what is new.
    if (byHand) (part('entries').children[first] as HTMLElement | undefined)?.focus();
  }

  #take({ entries, before, looked, onRecord }: AuditPage, searching: boolean): void {
    this.#next = before;
    this.#shown += entries.length;
    this.#looked += looked;
    part('entries').append(
      ...entries.map((entry) => {
        const item = changeItem(entry, { bench: this.bench, difference: (at, from, to) => this.#setup.difference(at, from, to) });
        item.tabIndex = -1;
        return item;
      }),
    );
    for (const { who } of entries) this.#names.add(who);
    this.#people.replaceChildren(...[...this.#names].sort().map((name) => new Option(name)));
    part('older').hidden = before === null || searching;
    say(part('progress'), this.#words(searching, onRecord));
  }

  #words(searching: boolean, onRecord: number): string {
    const changes = `${this.#shown} ${this.#shown === 1 ? 'change' : 'changes'}`;
    if (searching) return `Searching: ${changes} so far, ${this.#looked} of ${onRecord} looked through.`;
    if (onRecord === 0) return 'Nothing was written down yet. The first saved plan, job or change of the bench file will be.';
    if (this.#shown === 0) return `No change fits; ${onRecord} are on record. Take a word away, or search a longer time.`;
    const all = Object.keys(this.#search).length === 0;
    if (this.#next !== null) return `The newest ${changes}${all ? '' : ' that fit'}, of ${onRecord} on record.`;
    return all ? `All ${changes} on record.` : `${changes} found, of ${onRecord} on record.`;
  }

  #refused(error: unknown): void {
    say(part('progress'), '');
    if (error instanceof NotToldError && error.status === 403) {
      part('criteria').replaceChildren();
      say(part('problem'), 'Who changed what is for engineers; ask one of them, or sign in as one.');
      return;
    }
    say(part('problem'), error instanceof Error ? error.message : String(error));
  }

  async #checkChain(): Promise<void> {
    const place = part('chain');
    say(place, 'Checking whether every entry is as it was sealed…');
    try {
      const chain = await this.#client.chain();
      place.dataset['tone'] = chain.breaches.length > 0 ? 'bad' : chain.entries > 0 ? 'good' : '';
      place.replaceChildren(...chainWords(chain));
    } catch (error) {
      if (error instanceof NotToldError && error.status === 403) place.hidden = true;
      else say(place, `Whether every entry is as it was sealed could not be checked: ${error instanceof Error ? error.message : String(error)}`);
    }
  }
}

function chainWords({ entries, signed, lastSeal, breaches, more }: AuditChain): HTMLElement[] {
  if (lastSeal === null) return [make('span', '', 'There is no entry yet that could be checked.')];
  if (breaches.length > 0) {
    return [
      make('strong', '', '✗ The chain is not whole'),
      make('ul', '', ...breaches.map((sentence) => make('li', '', sentence))),
      make('span', '', `${more > 0 ? `And ${more} more. ` : ''}Keep the store as it is, copy it, and have it checked with the command verify.`),
    ];
  }
  const words = `${entries} ${entries === 1 ? 'entry' : 'entries'}, each as it was sealed and following the one before it${signed === 0 ? '' : signed === entries ? ', all signed' : `, ${signed} of them signed`}.`;
  return [
    make('strong', '', '✓ The chain is whole'),
    make('span', '', `${words} Newest seal, to be kept elsewhere against a cut end: `, make('code', '', lastSeal)),
  ];
}

function readForm(form: HTMLFormElement): ChangesSearch {
  const given = new FormData(form);
  return Object.fromEntries(
    changesFields.flatMap((field) => {
      const value = given.get(field);
      return typeof value === 'string' && value.trim() !== '' ? [[field, value.trim()]] : [];
    }),
  );
}
