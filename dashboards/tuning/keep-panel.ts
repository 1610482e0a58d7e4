import { part, say } from '../shared/page-parts.js';
import type { Changes } from './change-history.js';
import { controlOf, type ThresholdKey } from './threshold-controls.js';
import { Refusal, type InForce, type TuningApi } from './tuning-api.js';

const remembered = 'dwellkeeper-who';

export interface KeepActs {
  /** What is to be saved. */
  changes(): Changes;
  /** Saved: these are in force from the next run on. */
  saved(inForce: InForce): void;
  /** Takes over what somebody else saved meanwhile; the changes of this page stay. */
  theirs(inForce: InForce): void;
}

/** Puts changed thresholds in force, with the reason, as a new version. */
export class KeepPanel {
  private signedIn: string | null = null;
  private base: InForce | null = null;

  constructor(private readonly api: TuningApi, private readonly acts: KeepActs) {
    const who = part('who') as HTMLInputElement;
    who.value = localStorage.getItem(remembered) ?? '';
    who.addEventListener('change', () => localStorage.setItem(remembered, who.value.trim()));
    part('keep').addEventListener('submit', (event) => {
      event.preventDefault();
      void this.save();
    });
    void api.person().then((name) => {
      this.signedIn = name;
      part('who-field').hidden = name !== null;
    });
  }

  draw(base: InForce, changes: Changes): void {
    this.base = base;
    const keys = Object.keys(changes);
    part('save').toggleAttribute('disabled', keys.length === 0 || base.version === null);
    say(
      part('keep-what'),
      base.version === null
        ? 'Thresholds are not kept in versions on this bench: write what is changed into its thresholds file.'
        : keys.length === 0 ? 'Nothing is changed yet.' : keys.map((key) => `${controlOf(key as ThresholdKey).label}: ${changes[key]}`).join('; '),
    );
  }

  /** Whoever is at this page, signed in or by the name that is typed; `null` where nobody said. */
  get name(): string | null {
    const typed = (part('who') as HTMLInputElement).value.trim();
    return this.signedIn ?? (typed === '' ? null : typed);
  }

  private async save(): Promise<void> {
    const [why, who] = [part('why') as HTMLInputElement, part('who') as HTMLInputElement];
    say(part('save-problem'), '');
    say(part('saved'), '');
    const { base } = this;
    if (base?.version == null) return;
    const { name } = this;
    if (why.value.trim() === '') return this.refuse('Give the reason: whoever reads the record later will ask for it.', why);
    if (name === null) return this.refuse('Say who you are.', who);
    localStorage.setItem(remembered, who.value.trim());
    part('save').setAttribute('aria-busy', 'true');
    try {
      const saved = await this.api.save(base.version, this.acts.changes(), name, why.value.trim());
      why.value = '';
      this.acts.saved(saved);
      say(part('saved'), `Version ${saved.version} is saved. The next run is judged by it; runs on record stay as they are.`);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      if (error.status === 409) {
        this.acts.theirs(await this.api.inForce());
        this.refuse('Somebody saved other thresholds meanwhile. They are taken over here, and your changes stand on top of them: look again, then save.', part('save'));
      } else this.refuse(error.problems.length > 0 ? error.problems.map(({ place, text }) => [place, text].filter(Boolean).join(': ')).join('; ') : error.message, part('save'));
    } finally {
      part('save').removeAttribute('aria-busy');
    }
  }

  private refuse(sentence: string, focus: HTMLElement): void {
    say(part('save-problem'), sentence);
    focus.focus();
  }
}
