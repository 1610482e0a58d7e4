import type { PressureUnit } from '../../src/core/units.js';
import { AuthorField } from '../shared/author-field.js';
import { make, part, say } from '../shared/page-parts.js';
import { SetupClient, type CheckAnswer, type PlanList, type SettingAnswer } from '../shared/setup-client.js';
import { chosenUnit, offerUnits } from '../shared/unit-choice.js';
import { HoseForm } from './hose-form.js';
import { showShelf } from './plan-shelf.js';
import { SettingSheet, type OpenSetting } from './setting-sheet.js';

const thresholdsPath = '/thresholds';

/** The shop's plans: found at the left, one of them open at the right. */
export class PlansPage {
  readonly #client: SetupClient;
  readonly #author = new AuthorField(part('who') as HTMLInputElement);
  readonly #find = part('find') as HTMLInputElement;
  #list: PlanList | null = null;
  /** Of every plan that was listed so far: the one in force may be none of those that fit. */
  readonly #names = new Map<string, string>();
  #sheet: SettingSheet | null = null;
  #shown: string | null = null;
  #retired = false;
  #asked = 0;
  #unit: PressureUnit;

  constructor(bench: string, own: PressureUnit) {
    this.#client = new SetupClient(bench);
    this.#unit = chosenUnit() ?? own;
    say(part('bench'), bench);
    this.#offerUnits(own);
    this.#find.addEventListener('input', () => void this.#try(() => this.refresh()));
    part('from-hose').addEventListener('click', () => this.#leaving(() => this.#newFromHose()));
    part('blank').addEventListener('click', () => this.#leaving(() => void this.#try(() => this.#newBlank())));
    part('thresholds').addEventListener('click', () => this.#leaving(() => void this.#try(() => this.#openThresholds())));
    part('retired').addEventListener('click', () => {
      this.#retired = !this.#retired;
      part('retired').setAttribute('aria-pressed', String(this.#retired));
      void this.#try(() => this.refresh());
    });
    addEventListener('hashchange', () => this.#addressChanged());
    addEventListener('beforeunload', (event) => {
      if (this.#sheet?.unsaved === true) event.preventDefault();
    });
    void this.#try(async () => {
      await this.refresh();
      await this.#openAddressed();
    });
  }

  async refresh(): Promise<void> {
    const asked = ++this.#asked;
    const list = await this.#client.find(this.#find.value, this.#retired);
    if (asked !== this.#asked) return;
    this.#list = list;
    this.#draw();
  }

  #draw(): void {
    if (this.#list === null) return;
    const { plans, inForce, next } = this.#list;
    showShelf(this.#list, this.#shown, this.#unit, (key) => this.#address(key));
    for (const { key, name } of plans) this.#names.set(key, name);
    const nameOf = (key: string | null): string => this.#names.get(key ?? '') ?? key ?? '';
    say(part('in-force'), inForce === null ? 'no plan of the library is in force' : `runs are judged by ${nameOf(inForce)}${next === null ? '' : `; from the next run on by ${nameOf(next)}`}`);
  }

  /** Goes on at once where nothing is lost by it, else once somebody has said so. */
  #leaving(go: () => void): void {
    const sheet = this.#sheet;
    if (sheet?.unsaved !== true) return go();
    sheet.askToLeave(() => {
      this.#sheet = null;
      go();
    });
  }

  /** The browser has gone back or on already; until somebody agrees, the address says what is still shown. */
  #addressChanged(): void {
    const wanted = location.hash;
    if (this.#sheet?.unsaved === true) history.replaceState(null, '', this.#shown === null ? location.pathname + location.search : `#${encodeURIComponent(this.#shown)}`);
    this.#leaving(() => {
      history.replaceState(null, '', wanted === '' ? location.pathname + location.search : wanted);
      void this.#try(() => this.#openAddressed());
    });
  }

  /** What is open stands in the address: it can be kept, sent, and gone back from. */
  #address(key: string): void {
    this.#leaving(() => this.#goTo(key));
  }

  #goTo(key: string): void {
    if (decodeURIComponent(location.hash.slice(1)) === key) void this.#try(() => this.#openAddressed());
    else location.hash = encodeURIComponent(key);
  }

  async #openAddressed(): Promise<void> {
    const key = decodeURIComponent(location.hash.slice(1));
    if (key !== '') this.#openSaved(await this.#client.open(`/plans/${encodeURIComponent(key)}`));
  }

  #openSaved(answer: SettingAnswer, said = ''): void {
    const name = answer.fields.find(({ key }) => key === 'plan')?.written ?? answer.key;
    this.#show({ at: `/plans/${encodeURIComponent(answer.key)}`, title: name, saved: answer, text: answer.text, fields: answer.fields }, answer.key, said);
  }

  async #openThresholds(said = ''): Promise<void> {
    const answer = await this.#client.open(thresholdsPath);
    this.#show({ at: thresholdsPath, title: 'Thresholds of this bench', saved: answer, text: answer.text, fields: answer.fields }, null, said);
  }

  #newFromHose(): void {
    const form = new HoseForm(async (wanted) => this.#showNew(await this.#client.fromHose(wanted)));
    const title = make('h2', '', 'New plan from a hose');
    title.id = 'sheet-title';
    this.#leave();
    part('sheet').replaceChildren(title, form.element);
    form.focus();
  }

  async #newBlank(): Promise<void> {
    const answer = await this.#client.check('/plans', '{}', {});
    this.#showNew({ ...answer, text: '' });
  }

  /** A plan that is not saved yet: all that its text says counts as given. */
  #showNew({ text, fields }: CheckAnswer, edits: Readonly<Record<string, string>> = {}): void {
    this.#leave();
    this.#show({ at: '/plans', title: 'New plan, not saved yet', saved: null, text, fields }, null, '');
    if (Object.keys(edits).length > 0) this.#sheet?.put(edits);
    this.#sheet?.focusForm();
  }

  #copy({ key, text, fields }: SettingAnswer): void {
    this.#showNew({ text, fields, problems: [] }, { plan: `${fields.find((field) => field.key === 'plan')?.written ?? key}, copy` });
  }

  #leave(): void {
    this.#shown = null;
    this.#sheet = null;
    history.replaceState(null, '', location.pathname + location.search);
    this.#draw();
  }

  #show(open: OpenSetting, key: string | null, said: string): void {
    const narrow = matchMedia('(max-width: 900px)').matches;
    this.#shown = key;
    this.#sheet = new SettingSheet(
      open,
      {
        client: this.#client,
        author: () => this.#author.name(),
        saved: (answer) => void this.#try(() => this.#wasSaved(open.at, answer)),
        choose: (chosen) => this.#chooseFrom(chosen),
        copy: (answer) => this.#leaving(() => this.#copy(answer)),
      },
      this.#unit,
    );
    part('sheet').replaceChildren(this.#sheet.element);
    if (said !== '') this.#sheet.say(said, 'good');
    if (narrow || key !== null) part('sheet').focus({ preventScroll: true });
    // There the sheet stands below the list, out of sight.
    if (narrow && said === '') part('sheet').scrollIntoView({ block: 'start' });
    this.#draw();
  }

  async #wasSaved(at: string, answer: SettingAnswer): Promise<void> {
    const said = `Saved as version ${answer.version}.`;
    if (at === thresholdsPath) return this.#openThresholds(said);
    history.replaceState(null, '', `#${encodeURIComponent(answer.key)}`);
    this.#openSaved(answer, said);
    await this.refresh();
  }

  /** Opens the plan anew, so what is not saved is asked for first. */
  async #chooseFrom(key: string): Promise<void> {
    if (this.#sheet?.unsaved !== true) return this.#choose(key);
    this.#leaving(() => void this.#try(() => this.#choose(key)));
  }

  async #choose(key: string): Promise<void> {
    const { next } = await this.#client.choose(key, this.#author.name());
    await this.refresh();
    this.#openSaved(await this.#client.open(`/plans/${encodeURIComponent(key)}`), next === null ? 'The next run is judged by this plan.' : 'A run is going on and keeps its plan; the next one is judged by this.');
  }

  #offerUnits(own: PressureUnit): void {
    offerUnits(own, this.#unit, (unit) => {
      this.#unit = unit;
      this.#sheet?.showIn(unit);
      this.#offerUnits(own);
      this.#draw();
    });
  }

  async #try(work: () => Promise<void>): Promise<void> {
    try {
      await work();
      say(part('problem'), '');
    } catch (error) {
      say(part('problem'), error instanceof Error ? error.message : String(error));
    }
  }
}
