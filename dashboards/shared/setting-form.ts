import { pressureUnitOf, toBar, type PressureUnit } from '../../src/core/units.js';
import { pressureText } from './figures.js';
import { make, say } from './page-parts.js';
import type { Edits, WrittenField } from './setup-client.js';

interface Row {
  readonly field: WrittenField;
  readonly input: HTMLInputElement | HTMLSelectElement;
  readonly holder: HTMLElement;
  readonly wrong: HTMLElement;
  readonly also: HTMLElement;
}

/** The fields of a plan or of thresholds, each with its meaning, range and what is wrong with it beside it. */
export class SettingForm {
  readonly element = make('div', 'fields');
  readonly #rows: readonly Row[];
  #unit: PressureUnit;

  /** @param changed is called when something was typed, once it is left or a short while after */
  constructor(fields: readonly WrittenField[], unit: PressureUnit, changed: () => void) {
    this.#unit = unit;
    this.#rows = fields.map((field) => this.#row(field, changed));
    this.element.append(...this.#rows.map(({ holder }) => holder));
    this.#mark();
  }

  /** What differs from what is saved. */
  edits(): Edits {
    return Object.fromEntries(this.#rows.filter((row) => isChanged(row)).map(({ field, input }) => [field.key, input.value.trim()]));
  }

  /** Puts texts in, as somebody would type them. */
  put(edits: Edits): void {
    for (const { field, input } of this.#rows) {
      const value = edits[field.key];
      if (value !== undefined) input.value = value;
    }
    this.#mark();
  }

  /** Shows each problem beside its field. @returns what belongs to no field */
  showProblems(problems: readonly { readonly place: string; readonly text: string }[]): string[] {
    const left = new Set(problems);
    for (const { field, input, wrong } of this.#rows) {
      const own = problems.filter(({ place }) => place === field.key || (place !== '' && field.key.startsWith(`${place}.`)));
      for (const problem of own) left.delete(problem);
      say(wrong, own.map(({ text }) => text).join('; '));
      if (own.length > 0) input.setAttribute('aria-invalid', 'true');
      else input.removeAttribute('aria-invalid');
    }
    return [...left].map(({ place, text }) => [place, text].filter(Boolean).join(': '));
  }

  showIn(unit: PressureUnit): void {
    this.#unit = unit;
    this.#mark();
  }

  focus(): void {
    (this.#rows.find(({ input }) => input.getAttribute('aria-invalid') === 'true') ?? this.#rows[0])?.input.focus();
  }

  #row(field: WrittenField, changed: () => void): Row {
    const input = field.kind === 'choice' || field.kind === 'switch' ? choices(field) : document.createElement('input');
    input.name = field.key;
    input.id = `field-${field.key}`;
    input.value = field.written ?? '';
    if (input instanceof HTMLInputElement) {
      input.autocomplete = 'off';
      input.spellcheck = false;
      input.placeholder = field.default === null ? (field.needed ? '' : 'not set') : `${field.default} (default)`;
    }
    if (field.needed) input.required = true;
    const label = make('label', 'label', field.label);
    label.setAttribute('for', input.id);
    const range = [field.range, field.example === '' || field.choices.length > 0 ? '' : `for example ${field.example}`].filter((part) => part !== '').join('; ');
    const meaning = make('p', 'meaning', `${field.meaning.charAt(0).toUpperCase()}${field.meaning.slice(1)}.${range === '' ? '' : ` ${range.charAt(0).toUpperCase()}${range.slice(1)}.`}`);
    const also = make('p', 'also');
    const wrong = make('p', 'wrong');
    meaning.id = `${input.id}-meaning`;
    wrong.id = `${input.id}-wrong`;
    wrong.setAttribute('aria-live', 'polite');
    input.setAttribute('aria-describedby', `${wrong.id} ${meaning.id}`);
    const holder = make('div', 'field', label, input, wrong, also, meaning);
    let waiting: ReturnType<typeof setTimeout> | undefined;
    input.addEventListener('input', () => {
      this.#mark();
      clearTimeout(waiting);
      waiting = setTimeout(changed, 400);
    });
    return { field, input, holder, wrong, also };
  }

  #mark(): void {
    for (const row of this.#rows) {
      row.holder.classList.toggle('changed', isChanged(row));
      say(row.also, this.#inOtherUnit(row));
    }
  }

  /** A pressure in the unit that the page shows, where it is written in another. */
  #inOtherUnit({ field, input }: Row): string {
    const [, number = '', written = ''] = /^(\d+(?:\.\d+)?)\s*([^\d\s].*)$/.exec(input.value.trim()) ?? [];
    const unit = field.kind === 'quantity' ? pressureUnitOf(written) : undefined;
    return unit === undefined || unit === this.#unit ? '' : `= ${pressureText(toBar(Number(number), unit), this.#unit, null)}`;
  }
}

const isChanged = ({ field, input }: Row): boolean => input.value.trim() !== (field.written ?? '');

function choices(field: WrittenField): HTMLSelectElement {
  const select = document.createElement('select');
  const words: Readonly<Record<string, string>> = { true: 'yes', false: 'no' };
  const offered = field.default === null ? [] : [['', `${words[field.default] ?? field.default} (default)`] as const];
  for (const [value, text] of [...offered, ...field.choices.map((choice) => [choice, words[choice] ?? choice] as const)]) {
    const option = document.createElement('option');
    option.value = value;
    option.textContent = text;
    select.append(option);
  }
  return select;
}
