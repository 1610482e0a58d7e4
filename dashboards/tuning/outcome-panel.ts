import type { Finding, Outcome, Rule } from '../../src/core/outcome.js';
import { rules } from '../../src/core/outcome.js';
import type { RunInDetail } from '../../src/core/reading-in-detail.js';
import type { PressureUnit } from '../../src/core/units.js';
import { decisiveOutcome } from '../../src/tuning/judging.js';
import { told, type Told } from '../../src/tuning/run-change.js';
import { inUnit, pressureText } from '../shared/figures.js';
import { make, part, say } from '../shared/page-parts.js';
import { drawShape } from '../shared/shapes.js';
import { lookOfVerdict } from '../shared/verdict-looks.js';
import type { ReadTwice } from './reading-messages.js';
import { findingWords, onShownClock, ruleWords, sinceStart } from './run-words.js';

/** One line of the comparison. */
export interface ComparedLine {
  readonly name: string;
  readonly before: string;
  readonly after: string;
  readonly differs: boolean;
  /** What the rule says now; empty for figures. */
  readonly sentence: string;
}

/** Rules and figures of both readings, those that differ first. @param start s, the zero of shown times */
export function comparedLines(before: readonly Outcome[], after: readonly Outcome[], start: number, unit: PressureUnit, resolution: number | null): ComparedLine[] {
  const [was, is] = [decisiveOutcome(before), decisiveOutcome(after)];
  const lines: ComparedLine[] = [];
  for (const rule of rules) {
    const [old, now] = [worst(was, rule), worst(is, rule)];
    if (old === null && now === null) continue;
    const [a, b] = [findingWords(old, old?.outcome ?? null, unit), findingWords(now, now?.outcome ?? null, unit)];
    lines.push({ name: ruleWords[rule], before: a, after: b, differs: old?.outcome !== now?.outcome || a !== b, sentence: onShownClock(inUnit((now ?? old)?.sentence ?? '', unit), start) });
  }
  const [figuresWas, figuresIs] = [figures(before, start, unit, resolution), figures(after, start, unit, resolution)];
  for (const [i, [name, a]] of figuresWas.entries()) {
    const b = figuresIs[i]?.[1] ?? '–';
    lines.push({ name, before: a, after: b, differs: a !== b, sentence: '' });
  }
  return [...lines.filter(({ differs }) => differs), ...lines.filter(({ differs }) => !differs)];
}

const order = ['met', 'undecided', 'broken'] as const;

function worst(outcome: Outcome | null, rule: Rule): Finding | null {
  const found = outcome?.findings.filter((finding) => finding.rule === rule) ?? [];
  return found.reduce<Finding | null>((most, finding) => (most === null || order.indexOf(finding.outcome) > order.indexOf(most.outcome) ? finding : most), null);
}

function figures(outcomes: readonly Outcome[], start: number, unit: PressureUnit, resolution: number | null): (readonly [name: string, words: string])[] {
  const t: Told = told(outcomes);
  const cycle = decisiveOutcome(outcomes)?.cycles[0] ?? null;
  const time = (at: number | null): string => (at === null ? '–' : sinceStart(at, start));
  const bar = (p: number | null): string => pressureText(p, unit, resolution);
  return [
    ['Runs found', String(t.runs)],
    ['Settled at', time(t.settled)],
    ['Pressure at start of hold', bar(cycle?.holdStartPressure ?? null)],
    ['Lowest in the hold', bar(cycle?.holdMinimum ?? null)],
    ['Peak', bar(t.peak)],
    ['Loss read as a leak', t.leak === null ? '–' : inUnit(`${t.leak.rate.toFixed(2)} bar/min`, unit)],
    ['Strokes', cycle === null ? '–' : String(cycle.strokes)],
    ['Spikes', String(t.spikes)],
    ['Glitches', String(t.glitches)],
    ['Top-ups', cycle === null ? '–' : String(cycle.topUps)],
  ];
}

/** The two verdicts side by side, and line by line what makes the difference. */
export class OutcomePanel {
  draw(result: ReadTwice | null, start: number, unit: PressureUnit, resolution: number | null): void {
    this.side('before', result?.before ?? null);
    this.side('after', result?.after ?? null);
    const host = part('differences');
    if (result === null) return void host.replaceChildren();
    const outcomes = (runs: readonly RunInDetail[]): Outcome[] => runs.map(({ outcome }) => outcome);
    const lines = comparedLines(outcomes(result.before), outcomes(result.after), start, unit, resolution);
    const count = lines.filter(({ differs }) => differs).length;
    const head = make('thead', '', make('tr', '', ...['What', 'As judged', 'Would be'].map((word) => column(word, 'col'))));
    const body = make('tbody', '', ...lines.map((line) => {
      const what = column(line.name, 'row');
      if (line.differs) what.append(' ', make('span', 'mark', 'differs'));
      if (line.sentence !== '' && line.differs) what.append(make('span', 'sentence', line.sentence));
      return make('tr', line.differs ? 'differs' : '', what, make('td', '', line.before), make('td', '', line.after));
    }));
    host.replaceChildren(make('table', 'compared', make('caption', '', count === 0 ? 'Nothing comes out otherwise.' : `${count} of ${lines.length} come out otherwise:`), head, body));
  }

  private side(which: 'before' | 'after', runs: readonly RunInDetail[] | null): void {
    const svg = part(`${which}-word`).parentElement?.querySelector('svg');
    if (!svg) return;
    const look = runs === null ? null : runs.length === 0 ? { shape: 'broken-ring' as const, tone: 'quiet' as const, title: 'No run found' } : lookOfVerdict(told(runs.map(({ outcome }) => outcome)).verdict);
    drawShape(svg, look?.shape ?? 'ring');
    say(part(`${which}-word`), look?.title ?? '–');
    const side = part(`${which}-word`).closest('.side');
    if (side instanceof HTMLElement) side.dataset['tone'] = look?.tone ?? 'quiet';
  }
}

function column(text: string, scope: string): HTMLElement {
  const cell = make('th', '', text);
  cell.setAttribute('scope', scope);
  return cell;
}
