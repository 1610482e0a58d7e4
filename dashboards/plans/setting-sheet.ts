import type { PressureUnit } from '../../src/core/units.js';
import { make, say } from '../shared/page-parts.js';
import { Refusal, type Edits, type SettingAnswer, type SetupClient, type WrittenField } from '../shared/setup-client.js';
import { changeTable } from './change-table.js';
import { SettingForm } from '../shared/setting-form.js';
import { button, versionList } from './version-list.js';

/** A plan or the thresholds as the sheet has them open; `key` is `null` for a plan that was never saved. */
export interface OpenSetting {
  readonly at: string;
  readonly title: string;
  readonly saved: SettingAnswer | null;
  /** Text that a new plan begins with. */
  readonly text: string;
  readonly fields: readonly WrittenField[];
}

export interface SheetActions {
  readonly client: SetupClient;
  /** @throws Error where nobody is named */
  author(): string;
  /** Something was saved: the list is no longer right. */
  saved(answer: SettingAnswer): void;
  choose(key: string): Promise<void>;
  copy(answer: SettingAnswer): void;
}

/** One plan, or the thresholds: its fields, what is said when it is saved, its versions. */
export class SettingSheet {
  readonly element = make('div', 'open');
  readonly #form: SettingForm;
  readonly #why = document.createElement('input');
  readonly #said = make('p', 'said');
  readonly #meanwhile = make('div', '');
  #base: number;
  #asked = 0;
  #saidByCheck = false;

  constructor(
    private readonly open: OpenSetting,
    private readonly actions: SheetActions,
    unit: PressureUnit,
  ) {
    const { saved } = open;
    this.#base = saved?.version ?? 0;
    this.#form = new SettingForm(open.fields, unit, () => void this.#check());
    const title = make('h2', '', open.title);
    title.id = 'sheet-title';
    this.#why.id = 'why';
    this.#why.autocomplete = 'off';
    this.#why.maxLength = 500;
    this.#said.setAttribute('role', 'status');
    const label = make('label', 'field', make('span', '', saved === null ? 'Why is it made?' : 'Why is it changed?'), this.#why);
    const save = button(saved === null ? 'Save the new plan' : 'Save as a new version', 'Save', () => undefined, 'strong');
    save.removeAttribute('aria-label');
    save.setAttribute('type', 'submit');
    const form = document.createElement('form');
    form.noValidate = true;
    form.append(this.#form.element, make('div', 'save', label, save, this.#said));
    form.addEventListener('submit', (event) => {
      event.preventDefault();
      void this.#try(() => this.#save());
    });
    this.element.append(title, ...(saved === null ? [] : [this.#head(saved)]), this.#meanwhile, form);
    if (saved !== null && saved.versions.length > 0) this.element.append(make('h3', '', 'Versions'), this.#versions(saved));
  }

  showIn(unit: PressureUnit): void {
    this.#form.showIn(unit);
  }

  /** Texts that a copy begins with. */
  put(edits: Edits): void {
    this.#form.put(edits);
    void this.#check();
  }

  say(text: string, tone: 'good' | 'bad'): void {
    this.#saidByCheck = false;
    this.#said.dataset['tone'] = tone;
    say(this.#said, text);
  }

  /** True where leaving would lose something. */
  get unsaved(): boolean {
    return Object.keys(this.#form.edits()).length > 0 || (this.open.saved === null && this.open.text !== '');
  }

  /** What is not saved is dropped only by somebody who says so. */
  askToLeave(leave: () => void): void {
    const stay = button('Stay here', 'Stay here and keep the changes', () => {
      this.#meanwhile.replaceChildren();
      this.#form.focus();
    }, 'strong');
    const drop = button('Drop the changes', 'Drop the changes and go on', leave);
    const box = make('div', 'meanwhile', make('p', '', `'${this.open.title}' has changes that are not saved.`), make('div', 'buttons', stay, drop));
    box.setAttribute('role', 'alert');
    this.#meanwhile.replaceChildren(box);
    box.scrollIntoView({ block: 'nearest' });
    stay.focus();
  }

  focusForm(): void {
    this.#form.focus();
  }

  #head(saved: SettingAnswer): HTMLElement {
    const plan = this.open.at !== '/thresholds';
    const words = [
      saved.version === 0 ? 'never saved: the standard values hold' : `version ${saved.version}`,
      saved.inForce ? (plan ? 'runs are judged by it' : 'in force') : '',
      saved.retired ? 'retired: not offered for new runs' : '',
    ].filter((part) => part !== '').join(', ');
    const buttons = make('div', 'buttons');
    if (plan && !saved.inForce && !saved.retired) buttons.append(button('Use for the next run', 'Use for the next run', () => void this.#try(() => this.actions.choose(saved.key)), 'strong'));
    if (plan) buttons.append(button('Copy', 'Copy this plan', () => this.actions.copy(saved)));
    if (plan && !saved.retired && !saved.inForce) buttons.append(button('Retire', 'Retire this plan', () => void this.#try(() => this.#retire(saved))));
    if (plan && saved.retired) buttons.append(button('Bring back', 'Bring this plan back', () => void this.#try(() => this.#goBack(saved.version, 'brought back'))));
    const faults = make('ul', 'faults', ...saved.problems.map((problem) => make('li', '', problem)));
    return make('div', '', make('p', 'lead', words.charAt(0).toUpperCase() + words.slice(1)), buttons, ...(saved.problems.length > 0 ? [faults] : []));
  }

  #versions(saved: SettingAnswer): HTMLElement {
    return versionList(saved.versions, {
      difference: (from, to) => this.actions.client.difference(this.open.at, from, to),
      goBack: (to) => void this.#try(() => this.#goBack(to, `back to version ${to}`)),
    });
  }

  /** Asks the daemon what would be wrong, by the very check that saving makes. */
  async #check(): Promise<void> {
    const asked = ++this.#asked;
    const edits = this.#form.edits();
    try {
      const { problems } = await this.actions.client.check(this.open.at === '/thresholds' ? '/thresholds' : '/plans', this.open.saved?.text ?? this.open.text, edits);
      if (asked !== this.#asked) return;
      const left = this.#form.showProblems(problems);
      // Nothing wrong takes back what a check said, not what was said of a save meanwhile.
      if (left.length === 0 && !this.#saidByCheck) return;
      this.say(left.join('; '), 'bad');
      this.#saidByCheck = true;
    } catch (error) {
      if (asked === this.#asked) this.say(error instanceof Error ? error.message : String(error), 'bad');
    }
  }

  async #save(): Promise<void> {
    const { client } = this.actions;
    const who = this.actions.author();
    const edits = this.#form.edits();
    const why = this.#reason();
    if (why === null) return;
    const { saved, text, at } = this.open;
    this.actions.saved(saved === null ? await client.create(text, edits, who, why) : await client.save(at, this.#base, edits, who, why));
  }

  async #retire(saved: SettingAnswer): Promise<void> {
    const who = this.actions.author();
    const why = this.#reason();
    if (why !== null) this.actions.saved(await this.actions.client.retire(this.open.at, saved.version, who, why));
  }

  async #goBack(to: number, otherwise: string): Promise<void> {
    const why = this.#why.value.trim() === '' ? otherwise : this.#why.value.trim();
    this.actions.saved(await this.actions.client.goBack(this.open.at, to, this.#base, this.actions.author(), why));
  }

  #reason(): string | null {
    const why = this.#why.value.trim();
    this.#why.setAttribute('aria-invalid', String(why === ''));
    if (why !== '') return why;
    this.say('Give the reason first: whoever reads the record later will ask.', 'bad');
    this.#why.focus();
    return null;
  }

  async #try(work: () => Promise<void>): Promise<void> {
    try {
      await work();
    } catch (error) {
      if (error instanceof Refusal && error.conflict !== null) return this.#showMeanwhile(error.message, error.conflict);
      if (!(error instanceof Refusal)) return this.say(error instanceof Error ? error.message : String(error), 'bad');
      const left = this.#form.showProblems(error.problems);
      this.say(error.problems.length === 0 ? error.message : left.join('; ') || 'Not saved: see the fields marked above.', 'bad');
      if (left.length === 0) this.#form.focus();
    }
  }

  /** Somebody else saved first: both differences, and the choice between them. */
  #showMeanwhile(message: string, { newest, theirs, yours }: NonNullable<Refusal['conflict']>): void {
    const box = make('div', 'meanwhile', make('p', '', message), make('h3', '', 'What was changed meanwhile'), changeTable(theirs, 'What was changed meanwhile'), make('h3', '', 'How yours differs from that'), changeTable(yours, 'How yours differs'));
    const on = button('Save my fields on top', 'Save my fields on top', () => {
      this.#base = newest?.version ?? 0;
      this.#meanwhile.replaceChildren();
      void this.#try(() => this.#save());
    }, 'strong');
    const drop = button('Drop mine', 'Drop my changes and show what holds now', () => void this.actions.client.open(this.open.at).then((answer) => this.actions.saved(answer)));
    box.append(make('div', 'buttons', on, drop));
    box.setAttribute('role', 'alert');
    this.#meanwhile.replaceChildren(box);
    on.focus();
  }
}
