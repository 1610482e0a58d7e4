import type { Finding, FoundEvent, Rule, RuleOutcome, Verdict } from '../../src/core/outcome.js';
import type { PressureUnit } from '../../src/core/units.js';
import type { Concern } from '../../src/tuning/run-change.js';
import { inUnit, pressureText } from '../shared/figures.js';
import { eventSentence } from '../shared/event-words.js';
import { duration } from '../shared/time-words.js';

/** What a change means, for people; the gravest first. */
export const concernWords: Readonly<Record<Concern, string>> = {
  'new pass': 'Would pass now',
  'new fail': 'Would fail now',
  'no longer decided': 'No longer decided',
  findings: 'Same verdict, other findings',
  figures: 'Same verdict, other figures',
  none: 'Stays as it is',
};

export const verdictWords: Readonly<Record<Verdict, string>> = { pass: 'Pass', fail: 'Fail', inconclusive: 'Inconclusive' };

export const ruleWords: Readonly<Record<Rule, string>> = {
  reach: 'Test pressure reached', ceiling: 'Ceiling', rise: 'Rise', hold: 'Hold time', minimum: 'Minimum in the hold', drop: 'Drop', leak: 'Leak',
  'top-up': 'Top-up', burst: 'Burst', cycles: 'Cycles', data: 'Readings', lid: 'Lid',
};

/** How one rule comes out, with what was measured. */
export function findingWords(finding: Pick<Finding, 'measured' | 'unit'> | null, outcome: RuleOutcome | null, unit: PressureUnit): string {
  if (outcome === null) return 'not applied';
  const measured = finding?.measured ?? null;
  if (measured === null) return outcome;
  return inUnit(`${outcome}, ${Number(measured.toPrecision(6))} ${finding?.unit ?? ''}`.trim(), unit);
}

/** s since the trace began, as people count: `12.4 s`, `2:05`. */
export function sinceStart(time: number, start: number): string {
  const s = time - start;
  if (s < 60) return `${s.toFixed(s < 10 ? 2 : 1)} s`;
  const [minutes, rest] = [Math.floor(s / 60), s % 60];
  return minutes < 60 ? `${minutes}:${rest.toFixed(1).padStart(4, '0')}` : `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, '0')}:${String(Math.floor(rest)).padStart(2, '0')}`;
}

/** A sentence of the record with its times (s on the trace's clock) as the plot shows them. */
export const onShownClock = (sentence: string, start: number): string =>
  sentence.replace(/\b(at|from|to) (\d+(?:\.\d+)?) s\b(?!\/)/g, (whole, word: string, time: string) => (Number(time) >= start ? `${word} ${sinceStart(Number(time), start)}` : whole));

export const eventWords = (event: FoundEvent, unit: PressureUnit, resolution: number | null): string =>
  eventSentence(event, (bar) => pressureText(bar, unit, resolution), duration);
