import type { Cycle } from '../../src/core/outcome.js';
import { fromBar, type PressureUnit } from '../../src/core/units.js';
import type { RunDetail, Statistics } from '../../src/server/history-answers.js';
import { decimalsOf, localFigure, pressureText } from '../shared/figures.js';
import { duration, signedDuration } from '../shared/time-words.js';

/** One measured thing of a run: bar, bar/min, s or a count; `null` where it did not come. */
interface Figure {
  readonly word: string;
  readonly kind: 'pressure' | 'rate' | 'time' | 'count';
  readonly of: (cycle: Cycle) => number | null;
}

const between = (a: number | null, b: number | null): number | null => (a === null || b === null ? null : b - a);

const figures: readonly Figure[] = [
  { word: 'Highest', kind: 'pressure', of: ({ peak }) => peak },
  { word: 'First rise to band', kind: 'time', of: ({ rising, reached }) => between(rising, reached) },
  { word: 'Band to start of hold', kind: 'time', of: ({ reached, settled }) => between(reached, settled) },
  { word: 'Start of hold', kind: 'pressure', of: ({ holdStartPressure }) => holdStartPressure },
  { word: 'Lowest in hold', kind: 'pressure', of: ({ holdMinimum }) => holdMinimum },
  { word: 'Loss in hold', kind: 'pressure', of: ({ drop }) => drop },
  { word: 'Steady loss', kind: 'rate', of: ({ leak }) => leak?.rate ?? null },
  { word: 'Its standard error', kind: 'rate', of: ({ leak }) => leak?.standardError ?? null },
  { word: 'Length of hold', kind: 'time', of: ({ settled, holdEnd }) => between(settled, holdEnd) },
  { word: 'Strokes', kind: 'count', of: ({ strokes }) => strokes },
  { word: 'Top-ups', kind: 'count', of: ({ topUps }) => topUps },
];

/** A rate in the unit shown: as many decimals as the pressure, and one more, for a loss is small. */
export function rateText(barPerMinute: number | null, unit: PressureUnit, signed = false): string {
  if (barPerMinute === null) return '–';
  const value = fromBar(barPerMinute, unit);
  const text = value.toFixed(Math.min(decimalsOf(unit, null) + 1, 4));
  return `${signed && value > 0 ? '+' : ''}${localFigure(Number(text) === 0 ? text.replace('-', '') : text.replace('-', '−'))} ${unit}/min`;
}

function shown(value: number | null, kind: Figure['kind'], unit: PressureUnit, resolution: number | null, signed: boolean): string {
  if (value === null) return '–';
  const sign = signed && value > 0 ? '+' : '';
  switch (kind) {
    case 'pressure':
      return `${sign}${pressureText(value, unit, resolution)}`;
    case 'rate':
      return rateText(value, unit, signed);
    case 'time':
      return signed ? signedDuration(value) : duration(value);
    case 'count':
      return `${sign}${String(value).replace('-', '−')}`;
  }
}

/** What was measured in a cycle, word by word. */
export function cycleFigures(cycle: Cycle, unit: PressureUnit, resolution: number | null): (readonly [word: string, text: string])[] {
  return figures.map(({ word, kind, of }) => [word, shown(of(cycle), kind, unit, resolution, false)] as const);
}

/** The first cycles of two runs side by side, and by how much the second differs. */
export function comparedFigures(one: RunDetail, other: RunDetail, unit: PressureUnit): (readonly [word: string, one: string, other: string, difference: string])[] {
  const [a, b] = [one.outcome.cycles[0], other.outcome.cycles[0]];
  const [ra, rb] = [one.outcome.signal.resolution, other.outcome.signal.resolution];
  return figures.map(({ word, kind, of }) => {
    const [va, vb] = [a === undefined ? null : of(a), b === undefined ? null : of(b)];
    const apart = va === null || vb === null ? null : vb - va;
    return [word, shown(va, kind, unit, ra, false), shown(vb, kind, unit, rb, false), shown(apart, kind, unit, ra, true)] as const;
  });
}

/** A figure of the statistics in the unit shown. */
export const valueText = (value: number, { unit: kind }: Pick<Statistics, 'unit'>, unit: PressureUnit): string =>
  kind === 'bar' ? `${localFigure(fromBar(value, unit).toFixed(unit === 'psi' ? 1 : unit === 'MPa' ? 3 : 2).replace('-', '−'))} ${unit}` : rateText(value, unit);
