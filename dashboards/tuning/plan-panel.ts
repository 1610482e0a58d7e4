import type { SettingAnswer, WrittenField } from '../../src/server/setup-answers.js';
import { barPer, type PressureUnit } from '../../src/core/units.js';
import { part, say } from '../shared/page-parts.js';
import { SettingForm } from '../shared/setting-form.js';
import type { Changes } from './change-history.js';
import type { SaveTarget } from './keep-panel.js';
import { planIn, planProblems, planText, type PlanLimit, type PlanOnTrial } from './plan-values.js';
import { elsewhere } from './thresholds-target.js';
import type { PlanChoice, TuningApi } from './tuning-api.js';
import type { TrialChanges } from './trial-changes.js';

export interface PlanActs {
  /** The plan to try, by its key; `null` for none. */
  choose(key: string | null): void;
  /** All changed fields of the plan. */
  change(plan: Changes): void;
  /** On which runs it is tried has changed. */
  moved(): void;
  /** What was typed is wrong, and nothing on trial has changed. */
  refused(): void;
  trouble(error: unknown): void;
}

/** A plan of the library on trial: chosen, its values changed, saved as a new version. */
export class PlanPanel {
  private readonly plans = new Map<string, SettingAnswer>();
  private offered: readonly PlanChoice[] | null = null;
  private form: { readonly of: SettingAnswer; readonly it: SettingForm } | null = null;
  private wrong = false;
  private trial: TrialChanges = { thresholds: {}, planKey: null, plan: {} };

  constructor(private readonly api: TuningApi, private readonly acts: PlanActs) {
    part('plan-key').addEventListener('change', () => void this.choose((part('plan-key') as HTMLSelectElement).value || null));
    part('plan-every').addEventListener('change', () => acts.moved());
  }

  /** Lists the plans, once; tries the one of that name where none is on trial. */
  async offer(name: string | null): Promise<void> {
    try {
      this.offered ??= await this.api.plans();
      const select = part('plan-key') as HTMLSelectElement;
      if (select.options.length !== this.offered.length + 1) select.replaceChildren(new Option('none: each run by its own', ''), ...this.offered.map((plan) => new Option(plan.name, plan.key)));
      const own = this.offered.find((plan) => plan.name === name);
      if (this.trial.planKey !== null || own === undefined) return this.draw(this.trial);
      await this.choose(own.key);
    } catch (error) {
      this.acts.trouble(error);
    }
  }

  private async choose(key: string | null): Promise<void> {
    try {
      if (key !== null && !this.plans.has(key)) this.plans.set(key, await this.api.plan(key));
      this.acts.choose(key);
    } catch (error) {
      this.acts.trouble(error);
    }
  }

  /** What runs are read with; `null` for none. */
  get onTrial(): PlanOnTrial | null {
    const { current } = this;
    if (current === null) return null;
    const base = planIn(current.text);
    return { plan: planIn(this.text), of: (part('plan-every') as HTMLInputElement).checked ? null : base.plan };
  }

  /** As a plan file has it. */
  get text(): string {
    const { current } = this;
    return current === null ? '' : planText(current.text, current.fields, this.trial.plan);
  }

  /** Everything that is typed into the form, whether it is right or not, shown as it stands. */
  draw(trial: TrialChanges): void {
    this.trial = trial;
    const { current } = this;
    (part('plan-key') as HTMLSelectElement).value = current?.key ?? '';
    part('plan-every-field').hidden = current === null;
    if (current === null) {
      part('plan-form').replaceChildren();
      this.form = null;
      return;
    }
    if (this.form?.of !== current) {
      const it = new SettingForm(fieldsOf(current), 'bar', () => this.typed());
      this.form = { of: current, it };
      part('plan-form').replaceChildren(it.element);
    }
    const { it } = this.form;
    if (JSON.stringify(it.edits()) !== JSON.stringify(trial.plan)) {
      it.put({ ...Object.fromEntries(current.fields.map(({ key, written }) => [key, written ?? ''])), ...trial.plan });
      it.showProblems([]);
      say(part('plan-problem'), '');
      this.wrong = false;
    }
  }

  showIn(unit: PressureUnit): void {
    this.form?.it.showIn(unit);
  }

  /** A limit moved to a pressure, bar; nothing where the plan would not be right with it. @returns its text */
  limitAt(limit: PlanLimit, bar: number, unit: PressureUnit): Changes | null {
    const { current } = this;
    if (current === null) return null;
    const plan = { ...this.trial.plan, [limit]: `${Number((bar / barPer(unit)).toPrecision(4))} ${unit}` };
    return planProblems(planText(current.text, current.fields, plan)).length > 0 ? null : plan;
  }

  /** What saving would do; `null` without a plan. */
  target(saved: () => void): SaveTarget | null {
    const { current, trial } = this;
    if (current === null) return null;
    const changed = current.fields.flatMap((field) => (field.key in trial.plan ? [`${field.label}: ${field.written ?? standing(field)} → ${trial.plan[field.key] === '' ? 'left out' : trial.plan[field.key]}`] : []));
    return {
      words: changed.length === 0 ? `Nothing of the plan is changed yet.${elsewhere(Object.keys(trial.thresholds).length, 'of the thresholds', 'Thresholds')}` : changed.join('; '),
      ready: changed.length > 0 && !this.wrong,
      save: async (who, why) => {
        const now = await this.api.savePlan(current.key, current.version, trial.plan, who, why);
        this.plans.set(now.key, now);
        saved();
        return `Version ${now.version} of the plan is saved. ${now.inForce ? 'The next run is judged by it' : 'It is judged by once it is chosen on the live page'}; runs on record stay as they are.`;
      },
      takeTheirs: async () => {
        this.plans.set(current.key, await this.api.plan(current.key));
        this.acts.moved();
        return 'Somebody saved the plan meanwhile. What they saved is taken over here, and your changes stand on top of it: look again, then save.';
      },
      more: { words: 'Its versions and their differences', address: `../plans/?bench=${encodeURIComponent(this.api.bench)}#${encodeURIComponent(current.key)}` },
    };
  }

  private get current(): SettingAnswer | null {
    const { planKey } = this.trial;
    return planKey === null ? null : (this.plans.get(planKey) ?? null);
  }

  private typed(): void {
    const { current, form } = this;
    if (current === null || form === null) return;
    const edits = form.it.edits();
    const problems = planProblems(planText(current.text, current.fields, edits));
    say(part('plan-problem'), form.it.showProblems(problems).join('; '));
    this.wrong = problems.length > 0;
    if (this.wrong) this.acts.refused();
    else this.acts.change(edits);
  }
}

/** The name is no value to try: runs are found by it. */
const fieldsOf = ({ fields }: SettingAnswer): readonly WrittenField[] => fields.filter(({ key }) => key !== 'plan');

const standing = ({ default: value }: WrittenField): string => (value === null ? 'not set' : `${value} (default)`);

