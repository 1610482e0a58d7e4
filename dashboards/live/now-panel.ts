import type { Phase } from '../../src/core/live.js';
import { fromBar, type PressureUnit } from '../../src/core/units.js';
import type { PlanLines } from '../../src/sinks/live-protocol.js';
import { decimalsOf, figure, inUnit, localFigure, pressureText } from '../shared/figures.js';
import { lastRun, type LiveState } from './live-state.js';
import { MoreBelow } from './more-below.js';
import { nextAction } from './next-action.js';
import { fill, make, part, say } from '../shared/page-parts.js';
import { drawShape } from '../shared/shapes.js';
import { countdown } from '../shared/time-words.js';
import { verdictWords } from './verdict-words.js';

const phaseWords: Readonly<Record<Phase, string>> = {
  vented: 'Vented', rising: 'Rising', settling: 'Settling', holding: 'Holding', venting: 'Venting',
};

/** bar: what a bench reaches where no plan tells. */
const usualTop = 999;

/** Pressure, phase, next action and verdict: everything above the trace. */
export class NowPanel {
  readonly #figure = part('figure');
  readonly #reasons = new MoreBelow(part('verdict-lines'), part('verdict-more'));
  readonly #ruler = { band: inside('band'), target: inside('target'), pointer: inside('pointer') };

  show(state: LiveState | null, stale: boolean, unit: PressureUnit): void {
    const view = state?.view ?? null;
    const resolution = state?.setup.resolution ?? null;
    const text = (bar: number | null): string => pressureText(bar, unit, resolution);
    const plan = state?.setup.plan ?? null;

    say(part('bench'), state?.bench ?? 'Dwellkeeper');
    say(part('plan'), state === null ? '' : (plan?.name ?? 'no plan: runs are recorded, not judged'));
    // Nobody reads from 3 m that a number is pale: an old one stands small, with the word 'last'.
    const number = stale ? '–' : figure(view?.pressure, unit, resolution);
    say(this.#figure, number);
    this.#figure.style.setProperty('--signs', String(Math.max(signsOf(number), widestSigns(plan, unit, resolution))));
    say(part('unit'), unit);
    const last = stale ? (view?.pressure ?? null) : null;
    part('last-known').hidden = last === null;
    say(part('last-known'), `last: ${text(last)}`);
    say(part('band'), bandWords(plan, view?.phase ?? null, unit, resolution));
    this.#showRuler(plan, view?.phase ?? null, view?.pressure ?? null);

    // Between runs the peak is that of the last one; it goes with the first rise of the next, before that counts as a run.
    const run = state === null ? null : lastRun(state);
    say(part('peak'), text(view?.peak ?? run?.peak ?? null));
    say(part('slope'), slopeWords(view?.slope ?? null, unit, resolution));
    say(part('strokes'), view === null ? '–' : String(view.strokes));
    part('cycle-fact').hidden = (view?.cycles ?? 1) < 2;
    say(part('cycle'), view === null ? '–' : `${view.cycle} of ${view.cycles}`);

    const phase = stale ? 'No live data' : view === null ? 'Waiting' : view.pressure === null ? 'No valid reading' : phaseWords[view.phase];
    say(part('phase'), phase);
    part('phase').style.setProperty('--letters', String(phase.length));
    const left = stale ? null : (view?.holdLeft ?? null);
    say(part('sentence'), stale || view === null ? 'What is shown may be long past.' : restOf(inUnit(state?.decided.length ? withoutProspect(view.sentence) : view.sentence, unit), view.phase, left !== null));
    part('hold-left').hidden = left === null;
    say(part('hold-left'), countdown(left ?? 0));

    const action = nextAction(state, stale, (bar) => text(bar));
    part('action').dataset['weight'] = action.weight;
    say(part('action-words'), action.text);
    this.#showVerdict(state, stale, unit);
  }

  #showVerdict(state: LiveState | null, stale: boolean, unit: PressureUnit): void {
    const words = verdictWords(state, stale);
    part('verdict').dataset['tone'] = words.tone;
    say(part('verdict-word'), words.title);
    part('verdict').style.setProperty('--letters', String(words.title.length));
    drawShape(part('verdict-shape'), words.shape);
    const lines = words.lines.map((line) => inUnit(line, unit));
    fill(part('verdict-lines'), lines.join('\n'), () => lines.map((line) => make('li', '', line)));
    this.#reasons.count();
  }

  /** The ruler reaches from nothing to somewhat above the ceiling; it is for the eye only, the figure says the same. */
  #showRuler(plan: PlanLines | null, phase: Phase | null, pressure: number | null): void {
    const { band, target, pointer } = this.#ruler;
    part('ruler').hidden = plan === null;
    if (plan === null) return;
    const [low, high] = bandOf(plan, phase);
    const top = 1.1 * Math.max(high ?? 0, plan.testPressure);
    const share = (bar: number): string => `${Math.min(Math.max((bar / top) * 100, 0), 100)}%`;
    band.style.bottom = share(low);
    band.style.top = high === null ? '0' : `${Math.max(100 - (high / top) * 100, 0)}%`;
    target.style.bottom = share(plan.testPressure);
    pointer.hidden = pressure === null;
    if (pressure !== null) pointer.style.bottom = share(pressure);
  }
}

const inside = (name: string): HTMLElement => {
  const element = part('ruler').querySelector<HTMLElement>(`.${name}`);
  if (element === null) throw new Error(`the ruler has no '${name}'`);
  return element;
};

/** A hold that is lost already is not 'left if it stays above' anything. */
export const withoutProspect = (sentence: string): string => sentence.replace(/ if it stays above .*$/, '');

/** Widths of a sign in a figure: a point takes half of one. */
const signsOf = (number: string): number => number.replace(/[.,]/, '').length + (/[.,]/.test(number) ? 0.5 : 0);

/** Signs of the highest pressure to reckon with, so that the figure keeps its size from the first stroke to the vent. */
export function widestSigns(plan: PlanLines | null, unit: PressureUnit, resolution: number | null): number {
  return Math.max(signsOf(figure(plan === null ? usualTop : 1.1 * Math.max(plan.ceiling ?? 0, plan.testPressure), unit, resolution)), 3.5);
}

/** The sentence without the words that stand large above it already: the phase, and the countdown where it is shown. */
export function restOf(sentence: string, phase: Phase, countdownShown: boolean): string {
  const rest = sentence.replace(new RegExp(`^${phase}(?:[,:]\\s*|$)`, 'i'), '');
  return countdownShown ? rest.replace(/^\d+(?::\d\d){1,2}\s+/, '') : rest;
}

/** The band that counts in a phase, bar; without a ceiling it is open above. */
function bandOf(plan: PlanLines, phase: Phase | null): readonly [low: number, high: number | null] {
  return [phase === 'holding' || phase === 'settling' ? plan.holdFloor : plan.reach, plan.ceiling];
}

export function bandWords(plan: PlanLines | null, phase: Phase | null, unit: PressureUnit, resolution: number | null): string {
  if (plan === null) return '';
  const [low, high] = bandOf(plan, phase);
  return high === null
    ? `band: ${pressureText(low, unit, resolution)} and above`
    : `band: ${figure(low, unit, resolution)} to ${pressureText(high, unit, resolution)}`;
}

/** A slope per minute while it is gentle, per second while the pump works. */
function slopeWords(slope: number | null, unit: PressureUnit, resolution: number | null): string {
  if (slope === null || !Number.isFinite(slope)) return '–';
  const gentle = Math.abs(slope) < 1;
  const value = fromBar(gentle ? slope * 60 : slope, unit);
  const digits = value.toFixed(decimalsOf(unit, resolution ?? 0.1));
  return `${Number(digits) > 0 ? '+' : ''}${localFigure(Number(digits) === 0 ? digits.replace('-', '') : digits.replace('-', '−'))} ${unit}/${gentle ? 'min' : 's'}`;
}
