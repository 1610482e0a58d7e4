import type { Thresholds } from '../../src/core/thresholds.js';
import type { PressureUnit } from '../../src/core/units.js';
import { make, part, say } from '../shared/page-parts.js';
import type { Changes } from './change-history.js';
import { groups, thresholdControls, type ThresholdControl, type ThresholdKey } from './threshold-controls.js';
import { numberIn, numberOnSlider, problemWith, ruleOf, shareOnSlider, unitOf, unitsOf, writtenAs, type ShownUnit } from './threshold-values.js';

export interface PanelActs {
  /** `text` as in a thresholds file; `null` takes the change back. `gesture` joins the steps of one drag. */
  set(key: ThresholdKey, text: string | null, gesture: string | null): void;
  /** What was typed is wrong, and nothing on trial has changed. */
  refused(): void;
  endGesture(): void;
  undo(): void;
  redo(): void;
  reset(): void;
}

/** What the controls show. */
export interface PanelState {
  readonly base: Thresholds;
  readonly candidate: Thresholds;
  readonly changes: Changes;
  /** Values that differ, with those of the plan, and whether anything is on trial at all. */
  readonly count: number;
  readonly anything: boolean;
  readonly canUndo: boolean;
  readonly canRedo: boolean;
  /** bar, of the run that is shown: what shares are of. */
  readonly testPressure: number;
  readonly unit: PressureUnit;
}

/** Steps of a slider from end to end. */
const steps = 400;

/** All thresholds as controls: a number with its unit, a slider, what it means, and the way back to what is in force. */
export class ThresholdPanel {
  private readonly rows = new Map<ThresholdKey, Row>();

  constructor(acts: PanelActs) {
    part('controls').append(
      ...groups.map((group) => {
        const heading = make('h3', '', group);
        const rows = thresholdControls.filter((control) => control.group === group).map((control) => {
          const row = new Row(control, acts);
          this.rows.set(control.key, row);
          return row.element;
        });
        return make('section', 'group', heading, ...rows);
      }),
    );
    part('undo').addEventListener('click', () => acts.undo());
    part('redo').addEventListener('click', () => acts.redo());
    part('reset').addEventListener('click', () => acts.reset());
  }

  /** True while a field says something that is no value for it. */
  get wrong(): boolean {
    return [...this.rows.values()].some((row) => row.wrong);
  }

  draw(state: PanelState): void {
    for (const row of this.rows.values()) row.draw(state);
    const { count, anything } = state;
    say(part('changed'), count === 0 ? 'as in force' : `${count} changed`);
    part('undo').toggleAttribute('disabled', !state.canUndo);
    part('redo').toggleAttribute('disabled', !state.canRedo);
    part('reset').toggleAttribute('disabled', !anything);
  }
}

class Row {
  readonly element: HTMLElement;
  private readonly number = document.createElement('input');
  private readonly slider = document.createElement('input');
  private readonly unit = document.createElement('select');
  private readonly problem = make('p', 'wrong');
  private readonly was = make('p', 'was');
  private readonly back = make('button', 'back', 'Back');
  private state: PanelState | null = null;
  private ends: readonly [number, number] = [1, 2];

  constructor(private readonly control: ThresholdControl, private readonly acts: PanelActs) {
    const { key, label } = control;
    const { meaning, range } = ruleOf(key);
    const id = `threshold-${key}`;
    this.number.id = id;
    this.number.type = 'text';
    this.number.inputMode = 'decimal';
    this.number.autocomplete = 'off';
    this.number.setAttribute('aria-describedby', `${id}-meaning ${id}-problem`);
    this.problem.id = `${id}-problem`;
    this.slider.type = 'range';
    this.slider.min = '0';
    this.slider.max = String(steps);
    this.slider.setAttribute('aria-label', `${label}, slider`);
    this.unit.setAttribute('aria-label', `Unit of ${label.toLowerCase()}`);
    this.back.setAttribute('type', 'button');
    this.back.setAttribute('aria-label', `${label}: back to what is in force`);
    const name = make('label', '', label);
    name.setAttribute('for', id);
    const says = make('p', 'meaning', `${meaning.charAt(0).toUpperCase()}${meaning.slice(1)}. Allowed: ${range}.`);
    says.id = `${id}-meaning`;
    this.element = make('div', 'threshold', make('div', 'head', name, make('span', 'entry', this.number, this.unit)), this.slider, says, make('div', 'foot', this.was, this.back), this.problem);
    this.element.dataset['threshold'] = key;
    this.number.addEventListener('change', () => this.typed());
    this.number.addEventListener('keydown', (event) => this.stepped(event));
    this.slider.addEventListener('input', () => this.set(numberOnSlider(this.slider.valueAsNumber / steps, this.ends), `slide ${key}`));
    this.slider.addEventListener('change', () => acts.endGesture());
    this.unit.addEventListener('change', () => this.rewritten());
    this.back.addEventListener('click', () => {
      this.acts.set(key, null, null);
      this.number.focus();
    });
  }

  draw(state: PanelState): void {
    this.state = state;
    const { key, unit: own, usual } = this.control;
    const { candidate, base, changes, testPressure } = state;
    const units = unitsOf(key, own, state.unit);
    if (this.unit.dataset['units'] !== units.join()) {
      this.unit.dataset['units'] = units.join();
      this.unit.replaceChildren(...units.map((unit) => new Option(unit === '%' ? '% of test' : unit, unit)));
    }
    this.unit.disabled = units.length === 1;
    const unit = unitOf(candidate[key], own, state.unit);
    this.unit.value = unit;
    const number = numberIn(candidate[key], unit, testPressure);
    this.ends = unit === own ? usual : [usual[0] * this.ratio(unit), usual[1] * this.ratio(unit)];
    if (document.activeElement !== this.number || this.number.value === '' || !this.problem.textContent) this.number.value = String(number);
    this.slider.value = String(Math.round(steps * shareOnSlider(number, this.ends)));
    this.slider.setAttribute('aria-valuetext', `${number} ${unit}`);
    const changed = key in changes;
    this.element.classList.toggle('changed', changed);
    say(this.was, changed ? `in force: ${numberIn(base[key], unitOf(base[key], own, state.unit), testPressure)} ${unitOf(base[key], own, state.unit)}` : '');
    this.back.hidden = !changed;
    if (document.activeElement !== this.number) this.tell(null);
  }

  get wrong(): boolean {
    return this.problem.textContent !== '';
  }

  /** What one of the control's own unit is in another, at the test pressure. */
  private ratio(unit: ShownUnit): number {
    const { key, unit: own } = this.control;
    const { candidate, testPressure } = this.state as PanelState;
    return numberIn(candidate[key], unit, testPressure) / numberIn(candidate[key], own, testPressure);
  }

  private typed(): void {
    const number = this.number.value.trim().replace(',', '.');
    const text = /[a-z%]/i.test(number) ? number : `${number} ${this.unit.value}`;
    const problem = problemWith(this.control.key, text);
    this.tell(problem);
    if (problem === null) this.acts.set(this.control.key, text, null);
    else this.acts.refused();
  }

  private stepped(event: KeyboardEvent): void {
    if (event.key === 'Enter') return this.typed();
    const by = { ArrowUp: 1, ArrowDown: -1, PageUp: 10, PageDown: -10 }[event.key];
    if (by === undefined) return;
    event.preventDefault();
    const at = shareOnSlider(Number(this.number.value.replace(',', '.')), this.ends) + (by * 2) / steps;
    this.set(numberOnSlider(Math.min(Math.max(at, 0), 1), this.ends), `step ${this.control.key}`);
  }

  private rewritten(): void {
    const { candidate, testPressure } = this.state as PanelState;
    const unit = this.unit.value as ShownUnit;
    this.set(numberIn(candidate[this.control.key], unit, testPressure), null);
  }

  private set(number: number, gesture: string | null): void {
    const text = writtenAs(number, this.unit.value as ShownUnit);
    const problem = problemWith(this.control.key, text);
    this.tell(problem);
    if (problem === null) this.acts.set(this.control.key, text, gesture);
    else this.acts.refused();
  }

  private tell(problem: string | null): void {
    say(this.problem, problem ?? '');
    if (problem === null) this.number.removeAttribute('aria-invalid');
    else this.number.setAttribute('aria-invalid', 'true');
  }
}
