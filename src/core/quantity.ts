import { z } from 'zod';
import { quoted } from './quoted.js';
import { pressureUnitOf, pressureUnits, toBar } from './units.js';

/** seconds in one unit of time. */
const seconds: Readonly<Record<string, number>> = { ms: 0.001, s: 1, sec: 1, min: 60, h: 3600 };

/** What a quantity measures; its house unit stands behind it. */
export type Dimension = 'pressure' | 'time' | 'pressureRate' | 'fraction' | 'count';

export const houseUnit: Readonly<Record<Dimension, string>> = {
  pressure: 'bar',
  time: 's',
  pressureRate: 'bar/s',
  fraction: '%',
  count: '',
};

/** A number that people write: unit, range and meaning in one place. Check, help and docs are made from it. */
export interface QuantityRule {
  readonly dimension: Dimension;
  /** Smallest and largest allowed value in the house unit (bar, s, bar/s; a fraction as 0..1). */
  readonly min: number;
  readonly max: number;
  readonly meaning: string;
  /** An example that would be right, shown in every error. */
  readonly example: string;
}

/** What forms and help say about a number that people write: `meta().rule` of its schema. */
export interface WrittenRule {
  readonly dimension: Dimension | 'relativePressure' | 'relativeRate';
  readonly meaning: string;
  readonly example: string;
  /** As people read it: `0.5 s to 600 s`. */
  readonly range: string;
}

/** A quantity relative to another pressure (`3 %`) or absolute (`10 bar`). */
export type Relative = { readonly kind: 'fraction'; readonly value: number } | { readonly kind: 'pressure'; readonly value: number };

const numberAndUnit = /^([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)$/;

/** `550,5 bar` with a point; `undefined` where the comma may part thousands. */
const withPoint = (text: string): string | undefined => (/^[+-]?\d+,(?!\d{3}(?!\d))\d+[^\d.,]*$/.test(text) ? text.replace(',', '.') : undefined);

/** Splits `550 bar` into number and unit; a sentence when it cannot. */
function split(text: string, example: string): { number: number; unit: string } | string {
  if (/^[+-]?\d+,\d/.test(text.trim())) return `${quoted(text)} has a comma; write the decimal sign as a point, for example ${quoted(withPoint(text.trim()) ?? example)}`;
  const match = numberAndUnit.exec(text.trim());
  if (!match) return `${quoted(text)} is not a number with a unit; write for example '${example}'`;
  return { number: Number(match[1]), unit: (match[2] ?? '').trim() };
}

/** Value of a text in the house unit of `dimension`, or a sentence that says what is wrong. */
export function parseQuantity(text: string, dimension: Dimension, example: string): number | string {
  const parts = split(text, example);
  if (typeof parts === 'string') return parts;
  const { number, unit } = parts;
  if (dimension === 'count') return unit === '' ? number : `${quoted(text)} should be a plain number such as '${example}'`;
  if (unit === '') return `${quoted(text)} has no unit; write for example '${example}'`;
  switch (dimension) {
    case 'fraction':
      return unit === '%' ? number / 100 : `${quoted(text)} should be in %, for example '${example}'`;
    case 'time': {
      const factor = seconds[unit];
      return factor === undefined ? `${quoted(text)} should be a time in ms, s, min or h, for example '${example}'` : number * factor;
    }
    case 'pressure': {
      const known = pressureUnitOf(unit);
      return known === undefined
        ? `${quoted(text)} should be a pressure in ${pressureUnits.slice(0, 6).join(', ')}, for example '${example}'`
        : toBar(number, known);
    }
    case 'pressureRate': {
      const slash = unit.lastIndexOf('/');
      const known = pressureUnitOf(unit.slice(0, slash));
      const factor = seconds[unit.slice(slash + 1).trim()];
      return slash < 0 || known === undefined || factor === undefined
        ? `${quoted(text)} should be a pressure rate such as '${example}'`
        : toBar(number, known) / factor;
    }
  }
}

/** House value as people read it: `550 bar`, `1 %`, `10 s`. */
export function showQuantity(value: number, dimension: Dimension): string {
  const shown = dimension === 'fraction' ? value * 100 : value;
  return `${Number(shown.toPrecision(6))} ${houseUnit[dimension]}`.trim();
}

const outside = (text: string, rule: QuantityRule): string =>
  `${quoted(text)} should be ${showQuantity(rule.min, rule.dimension)} to ${showQuantity(rule.max, rule.dimension)}: ${rule.meaning}`;

/** A bare YAML number reaches the parser as text, so that the answer names the missing unit. */
const written = (example: string) =>
  z.union([z.string(), z.number()], { error: (issue) => `${issue.input === undefined ? 'is missing; it ' : ''}should be a number with its unit, for example '${example}'` }).transform(String);

/** Text with unit -> number in the house unit, inside its range. */
export function quantity(rule: QuantityRule) {
  return written(rule.example).transform((text, context) => {
    const value = parseQuantity(text, rule.dimension, rule.example);
    if (typeof value === 'string') {
      context.addIssue({ code: 'custom', message: value });
      return z.NEVER;
    }
    if (!(value >= rule.min && value <= rule.max)) {
      context.addIssue({ code: 'custom', message: outside(text, rule) });
      return z.NEVER;
    }
    return value;
  }).meta({ rule: { ...rule, range: `${showQuantity(rule.min, rule.dimension)} to ${showQuantity(rule.max, rule.dimension)}` } satisfies WrittenRule });
}

/** `3 %` or `10 bar`: a share of another pressure or a pressure of its own. */
export function relativePressure(rule: { readonly maxFraction: number; readonly maxPressure: number; readonly meaning: string; readonly example: string }) {
  return written(rule.example).transform((text, context): Relative => {
    const fraction = text.trim().endsWith('%');
    const value = parseQuantity(text, fraction ? 'fraction' : 'pressure', rule.example);
    const max = fraction ? rule.maxFraction : rule.maxPressure;
    if (typeof value === 'string' || !(value >= 0 && value <= max)) {
      const message =
        typeof value === 'string' ? value : `${quoted(text)} should be 0 to ${showQuantity(max, fraction ? 'fraction' : 'pressure')}: ${rule.meaning}`;
      context.addIssue({ code: 'custom', message });
      return z.NEVER;
    }
    return { kind: fraction ? 'fraction' : 'pressure', value };
  }).meta({
    rule: {
      dimension: 'relativePressure', meaning: rule.meaning, example: rule.example,
      range: `0 to ${showQuantity(rule.maxFraction, 'fraction')}, or to ${showQuantity(rule.maxPressure, 'pressure')}`,
    } satisfies WrittenRule,
  });
}

/** The pressure that a relative quantity means, given the pressure it is relative to; both bar. */
export function resolve(relative: Relative, reference: number): number {
  return relative.kind === 'fraction' ? relative.value * reference : relative.value;
}
