import type { Plan } from '../../src/core/plan.js';
import type { Thresholds } from '../../src/core/thresholds.js';
import type { PressureUnit } from '../../src/core/units.js';
import { pressureText } from '../shared/figures.js';
import type { HandleActs } from './handle-layer.js';
import type { PlanLimit } from './plan-values.js';
import { limitIn, type HandleKey } from './plot-handles.js';
import { controlOf, type ThresholdKey } from './threshold-controls.js';
import { numberIn, numberOnSlider, problemWith, shareOnSlider, unitOf, writtenAs } from './threshold-values.js';

/** What the desk asks of the page. */
export interface HandleView {
  /** As they are tried. */
  readonly thresholds: Thresholds;
  /** On trial; `null` where each run has its own. */
  readonly plan: Plan | null;
  readonly unit: PressureUnit;
  /** bar, of the run on the plot. */
  readonly testPressure: number;
  /** Writes a threshold. Steps of the same `gesture` are one to undo. */
  set(key: ThresholdKey, text: string, gesture: string): void;
  /** Writes a limit of the plan, bar. */
  setLimit(limit: PlanLimit, bar: number, gesture: string): void;
  endGesture(): void;
}

const limitLabels: Readonly<Record<PlanLimit, string>> = { testPressure: 'Test pressure', minimumPressure: 'Minimum pressure', ceilingPressure: 'Ceiling pressure' };

const isThreshold = (key: HandleKey): key is ThresholdKey => limitIn(key) === null;

/** What a handle on the plot means: values in s, bar or bar/s become what stands in a thresholds file or a plan, and back. */
export class HandleDesk implements HandleActs {
  constructor(private readonly view: HandleView) {}

  /** From the plot: a value in s, bar or bar/s, written in the unit in which the threshold stands. */
  move(key: HandleKey, value: number, gesture: string): void {
    const limit = limitIn(key);
    if (limit !== null) return this.view.setLimit(limit, value, gesture);
    if (!isThreshold(key)) return;
    const { thresholds, testPressure } = this.view;
    const unit = unitOf(thresholds[key], controlOf(key).unit, this.view.unit);
    const number = unit === 'ms' ? value * 1000 : unit === 's' ? value : numberIn({ kind: 'pressure', value }, unit, testPressure);
    const text = writtenAs(Number(number.toPrecision(3)), unit);
    if (problemWith(key, text) === null) this.view.set(key, text, gesture);
  }

  /** By `by` hundredths of its slider. */
  step(key: HandleKey, by: number): void {
    const { thresholds, plan, testPressure } = this.view;
    const limit = limitIn(key);
    // A five-hundredth of the test pressure: about a pixel of the plot.
    if (limit !== null) return this.view.setLimit(limit, (plan?.[limit] ?? 0) + (by * testPressure) / 500, `keys ${key}`);
    if (!isThreshold(key)) return;
    const { unit: own, usual } = controlOf(key);
    const unit = unitOf(thresholds[key], own, this.view.unit);
    const now = numberIn(thresholds[key], unit, testPressure);
    const scale = unit === own ? 1 : now / numberIn(thresholds[key], own, testPressure);
    const ends = [usual[0] * scale, usual[1] * scale] as const;
    const next = numberOnSlider(Math.min(Math.max(shareOnSlider(now, ends) + by / 100, 0), 1), ends);
    const text = writtenAs(next, unit);
    if (problemWith(key, text) === null) this.view.set(key, text, `keys ${key}`);
  }

  endGesture(): void {
    this.view.endGesture();
  }

  label(key: HandleKey): string {
    const limit = limitIn(key);
    return limit !== null ? limitLabels[limit] : isThreshold(key) ? controlOf(key).label : key;
  }

  words(key: HandleKey): string {
    const limit = limitIn(key);
    if (limit !== null) return pressureText(this.view.plan?.[limit] ?? null, this.view.unit, null);
    if (!isThreshold(key)) return '';
    const { thresholds, testPressure } = this.view;
    const unit = unitOf(thresholds[key], controlOf(key).unit, this.view.unit);
    return `${numberIn(thresholds[key], unit, testPressure)} ${unit}`;
  }
}
