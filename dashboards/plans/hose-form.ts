import { make, say } from '../shared/page-parts.js';
import { Refusal } from '../shared/setup-client.js';
import { button } from './version-list.js';

interface HoseField {
  readonly name: string;
  readonly label: string;
  readonly hint: string;
}

const fields: readonly HoseField[] = [
  { name: 'hose', label: 'Hose, as printed on it', hint: 'ISO 1436 2SN DN12, SAE 100R12-16, 4SH 3/4"' },
  { name: 'workingPressure', label: 'or its working pressure', hint: 'only where no standard names the hose: 275 bar, 4000 psi' },
  { name: 'fittingRatings', label: 'Working pressures of the end fittings', hint: '350 bar; 315 bar' },
  { name: 'hold', label: 'Hold', hint: '60 s, not less than 30 s' },
];

/** Asks for the hose and its fittings, from which a plan is made. */
export class HoseForm {
  readonly element = document.createElement('form');
  readonly #inputs = new Map<string, HTMLInputElement>();
  readonly #wrong = new Map<string, HTMLElement>();
  readonly #kind = document.createElement('select');
  readonly #problem = make('p', 'wrong');

  /** @param make_ throws a Refusal for what is not right */
  constructor(make_: (wanted: object) => Promise<void>) {
    const grid = make('div', 'fields', ...fields.map((field) => this.#field(field)), this.#kindField());
    this.#problem.setAttribute('role', 'alert');
    const go = button('Make the plan', 'Make the plan', () => this.element.requestSubmit(), 'strong');
    this.element.noValidate = true;
    this.element.append(
      make('p', 'lead', 'The working pressure of the weakest part decides. Every limit comes with the reason for it; check the numbers against the data of the makers and the current standard.'),
      grid, this.#problem, make('div', 'buttons', go),
    );
    this.element.addEventListener('submit', (event) => {
      event.preventDefault();
      void this.#make(make_);
    });
  }

  focus(): void {
    this.#inputs.get('hose')?.focus();
  }

  async #make(make_: (wanted: object) => Promise<void>): Promise<void> {
    const text = (name: string): string => this.#inputs.get(name)?.value.trim() ?? '';
    const fittingRatings = text('fittingRatings').split(/[;,]/).map((part) => part.trim()).filter((part) => part !== '');
    this.#show([]);
    try {
      await make_({ hose: text('hose'), workingPressure: text('workingPressure'), fittingRatings, kind: this.#kind.value, hold: text('hold') });
    } catch (error) {
      if (error instanceof Refusal) this.#show(error.problems.length > 0 ? error.problems : [{ place: '', text: error.message }]);
      else say(this.#problem, String(error));
    }
  }

  #show(problems: readonly { readonly place: string; readonly text: string }[]): void {
    for (const [name, wrong] of this.#wrong) {
      const own = problems.filter(({ place }) => place === name);
      say(wrong, own.map(({ text }) => text).join('; '));
      this.#inputs.get(name)?.setAttribute('aria-invalid', String(own.length > 0));
    }
    say(this.#problem, problems.filter(({ place }) => !this.#wrong.has(place)).map(({ text }) => text).join('; '));
  }

  #field({ name, label, hint }: HoseField): HTMLElement {
    const input = document.createElement('input');
    input.name = name;
    input.id = `hose-${name}`;
    input.autocomplete = 'off';
    input.spellcheck = false;
    const wrong = make('p', 'wrong');
    const meaning = make('p', 'meaning', `For example ${hint}`);
    wrong.id = `${input.id}-wrong`;
    meaning.id = `${input.id}-meaning`;
    input.setAttribute('aria-describedby', `${wrong.id} ${meaning.id}`);
    const words = make('label', 'label', label);
    words.setAttribute('for', input.id);
    this.#inputs.set(name, input);
    this.#wrong.set(name, wrong);
    return make('div', 'field', words, input, wrong, meaning);
  }

  #kindField(): HTMLElement {
    this.#kind.id = 'hose-kind';
    for (const [value, words] of [['proof', 'proof'], ['leakage', 'leakage, destroys the assembly'], ['burst', 'burst, destroys the assembly']]) {
      const option = document.createElement('option');
      option.value = value ?? '';
      option.textContent = words ?? '';
      this.#kind.append(option);
    }
    const words = make('label', 'label', 'What is tested');
    words.setAttribute('for', 'hose-kind');
    return make('div', 'field', words, this.#kind);
  }
}
