import type { Job, WrittenJob } from './job-client.js';
import type { PlanPicker } from './plan-picker.js';
import { make, say } from '../shared/page-parts.js';
import { NoConnection } from '../shared/reach.js';

interface Field {
  readonly name: string;
  readonly label: string;
  readonly hint?: string;
}

const fields: readonly Field[] = [
  { name: 'order', label: 'Order' },
  { name: 'customer', label: 'Customer, reference' },
  { name: 'assemblies', label: 'Assemblies', hint: 'A17-001..006, or scan one after the other' },
  { name: 'hose', label: 'Hose' },
  { name: 'hoseLot', label: 'Hose lot' },
  { name: 'fitting', label: 'End fittings' },
  { name: 'medium', label: 'Medium' },
  { name: 'operator', label: 'Operator' },
  { name: 'responsible', label: 'Responsible' },
  { name: 'remark', label: 'Remark' },
];

/** ms */
const sendAgainAfter = 2000;

export interface JobFormActions {
  /** @param plan the plan that was picked for the next run; `null`: it stays as it is */
  save(job: WrittenJob, why: string, plan: string | null): Promise<void>;
  close(): void;
}

/** Job details to fill in, with large fields. Enter goes to the next field; in 'Assemblies' it makes room for the next scan. */
export class JobForm {
  readonly element: HTMLFormElement;
  readonly #inputs = new Map<string, HTMLInputElement>();
  readonly #problem = make('p', 'problem');
  readonly #why: HTMLInputElement;
  /** Run that is tested again; goes along unseen. */
  #retestOf: number | undefined;
  /** Sends again what could not be sent. */
  #again: ReturnType<typeof setTimeout> | undefined;
  readonly #began: string;

  /** @param needsReason there is a job already, and the run is over */
  constructor(
    title: string,
    job: Job | null,
    needsReason: boolean,
    private readonly actions: JobFormActions,
    private readonly beside: { readonly picker: PlanPicker; readonly reminder: HTMLElement } | null = null,
  ) {
    this.element = document.createElement('form');
    this.element.className = 'job-form';
    this.#problem.setAttribute('role', 'alert');
    const grid = make('div', 'fields');
    for (const { name, label, hint } of fields) grid.append(this.#field(name, label, hint));
    this.#why = this.#input('why');
    if (needsReason) grid.append(this.#labelled(this.#why, 'Why is it changed?', 'needed: both stay on the certificate'));
    const save = make('button', 'strong', 'Save job');
    save.setAttribute('type', 'submit');
    const close = make('button', 'close', 'Close');
    close.setAttribute('type', 'button');
    close.addEventListener('click', () => actions.close());
    this.element.append(make('div', 'sheet-head', make('h2', '', title), make('div', 'buttons', save, close)), this.#problem, grid, ...(beside === null ? [] : [beside.picker.element, beside.reminder]));
    void beside?.picker.refresh();
    this.element.addEventListener('submit', (event) => {
      event.preventDefault();
      void this.#save();
    });
    this.element.addEventListener('keydown', (event) => this.#key(event));
    this.#retestOf = job?.retestOf;
    for (const { name } of fields) this.put(name, textOf(job, name));
    this.#began = this.#allText;
  }

  /** True where something was written that is not saved yet. */
  get entered(): boolean {
    return this.#allText !== this.#began || (this.beside?.picker.picked ?? null) !== null;
  }
  get #allText(): string {
    return [...this.#inputs.values(), this.#why].map(({ value }) => value).join('\n');
  }


  /** The first field that is still empty gets the cursor. */
  focus(): void {
    ([...this.#inputs.values()].find(({ value }) => value === '') ?? this.#inputs.get('order'))?.focus();
  }

  put(name: string, value: string): void {
    const input = this.#inputs.get(name);
    if (input) input.value = value;
  }

  /** Adds an assembly to those that stand there. @returns false where it stands there already */
  addAssembly(serial: string): boolean {
    const input = this.#inputs.get('assemblies');
    if (!input) return false;
    const there = input.value.split(/[,;]/).map((part) => part.trim()).filter((part) => part !== '');
    if (there.some((other) => other.toLowerCase() === serial.toLowerCase())) return false;
    input.value = [...there, serial].join(', ');
    return true;
  }

  #key(event: KeyboardEvent): void {
    const input = event.target;
    if (event.key !== 'Enter' || !(input instanceof HTMLInputElement)) return;
    event.preventDefault();
    // A scanner ends each serial number with Enter: the next one then follows after a comma; a second Enter goes on.
    if (input.name === 'assemblies' && input.value.trim() !== '' && !/[,;]\s*$/.test(input.value)) {
      input.value = `${input.value.trim()}, `;
      return;
    }
    const all = [...this.element.querySelectorAll('input')];
    const next = all[all.indexOf(input) + 1];
    if (next) next.focus();
    else this.element.querySelector<HTMLElement>('button[type=submit]')?.focus();
  }

  async #save(): Promise<void> {
    const written: Record<string, string | number> = {};
    for (const [name, { value }] of this.#inputs) if (name !== 'why' && value.trim() !== '') written[name] = value;
    if (this.#retestOf !== undefined) written['retestOf'] = this.#retestOf;
    clearTimeout(this.#again);
    try {
      await this.actions.save(written, this.#why.value, this.beside?.picker.picked ?? null);
    } catch (error) {
      // A job that is keyed in twice is the same job, so this may be sent again by itself.
      if (error instanceof NoConnection && this.beside !== null) return this.#sendLater();
      say(this.#problem, error instanceof Error ? error.message.replace(/^job: /, '') : String(error));
    }
  }

  #sendLater(): void {
    say(this.#problem, 'Not saved yet: no connection. It is sent once the page is connected again, while this stays open.');
    this.#again = setTimeout(() => {
      if (this.element.isConnected) void this.#save();
    }, sendAgainAfter);
  }

  #field(name: string, label: string, hint?: string): HTMLElement {
    const input = this.#input(name);
    this.#inputs.set(name, input);
    return this.#labelled(input, label, hint);
  }

  #labelled(input: HTMLInputElement, label: string, hint?: string): HTMLElement {
    if (hint !== undefined) input.placeholder = hint;
    return make('label', input.name === 'assemblies' ? 'field wide' : 'field', make('span', '', label), input);
  }

  #input(name: string): HTMLInputElement {
    const input = document.createElement('input');
    input.name = name;
    input.autocomplete = 'off';
    input.spellcheck = false;
    input.setAttribute('autocapitalize', 'off');
    return input;
  }
}

function textOf(job: Job | null, name: string): string {
  if (job === null) return '';
  if (name === 'assemblies') return (job.assemblies ?? []).join(', ');
  const value = job[name as keyof Job];
  return typeof value === 'string' ? value : '';
}
