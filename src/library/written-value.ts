import { z } from 'zod';
import type { WrittenRule } from '../core/quantity.js';
import { showQuantity } from '../core/quantity.js';

/** A schema without its default, its option to be left out and what it makes of the text; with the rule it was made from. */
export function ruleIn(schema: unknown): WrittenRule | null {
  if (!(schema instanceof z.ZodType)) return null;
  const rule = schema.meta()?.['rule'];
  if (rule !== undefined) return rule as WrittenRule;
  if (schema instanceof z.ZodOptional || schema instanceof z.ZodDefault) return ruleIn(schema.def.innerType);
  return schema instanceof z.ZodPipe ? ruleIn(schema.def.in) : null;
}

/** The schema within its default and its option to be left out. */
export function bare(schema: unknown): unknown {
  return schema instanceof z.ZodOptional || schema instanceof z.ZodDefault ? bare(schema.def.innerType) : schema;
}

/** The default of a field; `undefined` where it has none. */
export function defaultOf(schema: unknown): unknown {
  if (schema instanceof z.ZodOptional) return defaultOf(schema.def.innerType);
  return schema instanceof z.ZodDefault ? schema.def.defaultValue : undefined;
}

/** A checked value as a person would write it: `550 bar`, `1 %`, `0.3 %/min`, `false`. */
export function writtenValue(value: unknown, rule: WrittenRule | null): string {
  if (typeof value === 'object' && value !== null && 'kind' in value && 'value' in value && typeof value.value === 'number') {
    const share = value.kind === 'fraction';
    if (rule?.dimension !== 'relativeRate') return showQuantity(value.value, share ? 'fraction' : 'pressure');
    if (!share) return showQuantity(value.value, 'pressureRate');
    // Slow ones are told by the minute, as people speak of settling.
    const quick = value.value >= 0.001;
    return `${Number((value.value * (quick ? 100 : 6000)).toPrecision(6))} ${quick ? '%/s' : '%/min'}`;
  }
  if (typeof value === 'number' && rule !== null && rule.dimension !== 'relativePressure' && rule.dimension !== 'relativeRate') return showQuantity(value, rule.dimension);
  return String(value);
}
