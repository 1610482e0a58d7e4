import { part, say } from '../shared/page-parts.js';
import { Refusal, type TuningApi } from './tuning-api.js';

const remembered = 'dwellkeeper-who';

/** Something that can be saved as a new version. */
export interface SaveTarget {
  /** What would be saved, from what to what, or why nothing can be. */
  readonly words: string;
  readonly ready: boolean;
  /** @returns what to say of it @throws Refusal; status 409 where somebody saved meanwhile */
  save(who: string, why: string): Promise<string>;
  /** Takes over what somebody else saved; the changes of this page stay. @returns what to say of it */
  takeTheirs(): Promise<string>;
  /** Where there is more about it. */
  readonly more?: { readonly words: string; readonly address: string };
}

/** Puts what was tried in force, with the reason, as a new version. */
export class KeepPanel {
  private signedIn: string | null = null;
  private target: SaveTarget | null = null;

  constructor(private readonly api: TuningApi) {
    const who = part('who') as HTMLInputElement;
    who.value = localStorage.getItem(remembered) ?? '';
    who.addEventListener('change', () => localStorage.setItem(remembered, who.value.trim()));
    part('keep').addEventListener('submit', (event) => {
      event.preventDefault();
      void this.save();
    });
    void this.api.person().then((name) => {
      this.signedIn = name;
      part('who-field').hidden = name !== null;
    });
  }

  draw(target: SaveTarget | null): void {
    this.target = target;
    part('keep').hidden = target === null;
    if (target === null) return;
    part('save').toggleAttribute('disabled', !target.ready);
    say(part('keep-what'), target.words);
    const more = part('keep-more');
    more.hidden = target.more === undefined;
    if (target.more === undefined) return;
    say(more, target.more.words);
    more.setAttribute('href', target.more.address);
  }

  /** Forgets what was said of an earlier save. */
  clear(): void {
    say(part('saved'), '');
    say(part('save-problem'), '');
  }

  /** Whoever is at this page, signed in or by the name that is typed; `null` where nobody said. */
  get name(): string | null {
    const typed = (part('who') as HTMLInputElement).value.trim();
    return this.signedIn ?? (typed === '' ? null : typed);
  }

  private async save(): Promise<void> {
    const [why, who] = [part('why') as HTMLInputElement, part('who') as HTMLInputElement];
    this.clear();
    const { target } = this;
    if (target?.ready !== true) return;
    const { name } = this;
    if (why.value.trim() === '') return this.refuse('Give the reason: whoever reads the record later will ask for it.', why);
    if (name === null) return this.refuse('Say who you are.', who);
    localStorage.setItem(remembered, who.value.trim());
    part('save').setAttribute('aria-busy', 'true');
    try {
      const said = await target.save(name, why.value.trim());
      why.value = '';
      say(part('saved'), said);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      if (error.status === 409) this.refuse(await target.takeTheirs(), part('save'));
      else this.refuse(error.problems.length > 0 ? error.problems.map(({ place, text }) => [place, text].filter(Boolean).join(': ')).join('; ') : error.message, part('save'));
    } finally {
      part('save').removeAttribute('aria-busy');
    }
  }

  private refuse(sentence: string, focus: HTMLElement): void {
    say(part('save-problem'), sentence);
    focus.focus();
  }
}
