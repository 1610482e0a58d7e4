import type { FoundEvent } from '../../src/core/outcome.js';
import { make, part } from '../shared/page-parts.js';
import { Refusal, type Labels, type TuningApi } from './tuning-api.js';

/** What an engineer knows of a run or an excursion, whatever it was judged to be. */
const truths = [['truly sound', 'Truly sound'], ['truly leaking', 'Truly leaking'], ['cannot tell', 'Cannot be told'], ['not known', 'Not known']] as const;

/** Lets an engineer say what the assemblies of the run that is shown were in truth, and whether an excursion was real. */
export class LabelPanel {
  private run: number | null = null;
  private labels: Labels | null = null;
  private event: FoundEvent | null = null;

  constructor(private readonly api: TuningApi, private readonly who: () => string | null, private readonly changed: (run: number, labels: Labels) => void) {}

  /** A recorded run; `null` for a file, which has no record to say it on. */
  show(run: number | null): void {
    if (run === this.run) return;
    this.run = run;
    this.labels = null;
    this.draw();
    if (run === null) return;
    void this.api.labels(run).then((labels) => {
      if (this.run !== run) return;
      this.labels = labels;
      this.draw();
    });
  }

  look(event: FoundEvent | null): void {
    this.event = event;
    this.draw();
  }

  private draw(): void {
    const host = part('labels');
    const { labels, event } = this;
    host.hidden = labels === null;
    if (labels === null) return;
    const truth = make('fieldset', 'choice', make('legend', 'unseen', 'What the assemblies were in truth'));
    for (const [value, words] of truths) truth.append(this.option('truth', words, (labels.truth ?? 'not known') === value, { label: value }));
    host.replaceChildren(make('p', 'small', 'In truth:'), truth);
    if (event === null || (event.kind !== 'spike' && event.kind !== 'glitch')) return;
    const near = labels.spikes.find(({ at }) => Math.abs(at - event.at) <= 0.1);
    const real = make('fieldset', 'choice', make('legend', 'unseen', `Whether the ${event.kind} was real pressure`));
    real.append(
      this.option('real', 'Real pressure', near?.real === true, { label: 'real spike', at: event.at }),
      this.option('real', 'No pressure', near?.real === false, { label: 'no spike', at: event.at }),
    );
    host.append(make('p', 'small', `This ${event.kind}:`), real);
  }

  private option(name: string, words: string, on: boolean, label: Readonly<Record<string, unknown>>): HTMLElement {
    const input = document.createElement('input');
    input.type = 'radio';
    input.name = `label-${name}`;
    input.checked = on;
    input.addEventListener('change', () => void this.say(label));
    return make('label', '', input, words);
  }

  private async say(label: Readonly<Record<string, unknown>>): Promise<void> {
    const { run } = this;
    if (run === null) return;
    const why = (part('label-why') as HTMLInputElement).value.trim();
    part('label-problem').textContent = '';
    const who = this.who();
    if (who === null) {
      part('label-problem').textContent = 'Say who you are, at the right below the thresholds; a label is put on record with its name.';
      part('who').focus();
      return this.draw();
    }
    try {
      this.labels = await this.api.label(run, { ...label, who, ...(why === '' ? {} : { why }) });
      (part('label-why') as HTMLInputElement).value = '';
      part('label-why-field').hidden = true;
      this.changed(run, this.labels);
    } catch (error) {
      if (!(error instanceof Refusal)) throw error;
      part('label-problem').textContent = error.message;
      // A label that contradicts an earlier one wants its reason.
      if (error.problems.some(({ place }) => place === 'why')) part('label-why-field').hidden = false;
    }
    this.draw();
  }
}
