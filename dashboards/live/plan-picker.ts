import { pressureText } from '../shared/figures.js';
import { make, say } from '../shared/page-parts.js';
import type { PlanLine, PlanList, SetupClient } from '../shared/setup-client.js';
import { chosenUnit } from '../shared/unit-choice.js';
import { duration } from '../shared/time-words.js';

/** Plans offered at once; a word more in the field finds the others. */
const offeredAtMost = 6;

/** Finds the plan for the next run: the ones used last stand there at once, any word, size or pressure finds the rest. */
export class PlanPicker {
  readonly element = make('fieldset', 'picker');
  readonly #find = document.createElement('input');
  readonly #list = make('div', 'offered');
  readonly #said = make('p', 'stands');
  #plans: readonly PlanLine[] = [];
  #picked: PlanLine | null = null;
  #asked = 0;

  constructor(private readonly client: SetupClient) {
    this.#find.type = 'search';
    this.#find.id = 'find-plan';
    this.#find.autocomplete = 'off';
    this.#find.spellcheck = false;
    this.#find.placeholder = '2SN DN12, 280 bar, any word';
    this.#said.setAttribute('aria-live', 'polite');
    const label = make('label', 'field', make('span', '', 'Find another plan'), this.#find);
    this.element.append(make('legend', '', 'Plan for the next run'), this.#said, label, this.#list);
    // Shown once the plans are known: a bench may have none.
    this.element.hidden = true;
    this.#find.addEventListener('input', () => void this.refresh());
    this.#find.addEventListener('keydown', (event) => {
      const [first] = this.#plans;
      if (event.key !== 'Enter' || first === undefined || this.#find.value.trim() === '') return;
      // Enter takes the best one instead of going on to the next field.
      event.preventDefault();
      event.stopPropagation();
      this.#pick(first);
    });
  }

  /** The plan that was picked and is not in force yet; `null` where it stays as it is. */
  get picked(): string | null {
    return this.#picked?.key ?? null;
  }

  async refresh(): Promise<void> {
    const asked = ++this.#asked;
    const list = await this.client.find(this.#find.value).catch(() => null);
    if (asked !== this.#asked || list === null) return;
    this.element.hidden = list.plans.length === 0 && this.#find.value === '';
    this.#draw(list);
  }

  #pick(plan: PlanLine): void {
    this.#picked = plan;
    this.#find.value = '';
    void this.refresh();
  }

  #draw(list: PlanList): void {
    this.#plans = list.plans;
    const standing = list.next ?? list.inForce;
    if (this.#picked?.key === standing) this.#picked = null;
    const wanted = this.#picked ?? list.plans.find(({ key }) => key === standing) ?? null;
    if (wanted !== null) say(this.#said, `${wanted.name}: ${this.#words(wanted)}${list.running && wanted.key !== list.inForce ? '. The run that is going on keeps its own.' : this.#picked === null ? ', in force' : ', with this job'}`);
    else if (this.#find.value === '') say(this.#said, 'No plan of the library is in force.');
    this.#list.replaceChildren(...list.plans.slice(0, offeredAtMost).map((plan) => this.#offer(plan, plan.key === wanted?.key)));
    if (list.plans.length === 0) this.#list.append(make('p', 'none', 'No plan fits.'));
  }

  #offer(plan: PlanLine, pressed: boolean): HTMLElement {
    const button = make('button', '', make('strong', '', plan.name), make('span', '', this.#words(plan)));
    button.setAttribute('type', 'button');
    button.setAttribute('aria-pressed', String(pressed));
    button.addEventListener('click', () => this.#pick(plan));
    return button;
  }

  #words({ testPressure, holdTime }: PlanLine): string {
    return `${pressureText(testPressure, chosenUnit() ?? 'bar', null)}, held ${duration(holdTime)}`;
  }
}
