import { z } from 'zod';
import { parsePlan, planSchema, type Plan } from '../core/plan.js';
import { parseThresholds, thresholdsSchema, type Thresholds } from '../core/thresholds.js';
import { yamlOf } from '../files/yaml-file.js';
import { bare, defaultOf, ruleIn, writtenValue } from './written-value.js';

/** One field of a plan or of thresholds as a form shows it. Everything in here comes from the schema that checks it. */
export interface SettingField {
  /** As in the file; `riseRate.maximum` for one within another. */
  readonly key: string;
  readonly label: string;
  readonly kind: 'quantity' | 'text' | 'switch' | 'choice' | 'count';
  readonly meaning: string;
  /** Smallest to largest value with units; empty where there is none. */
  readonly range: string;
  readonly example: string;
  readonly needed: boolean;
  /** What holds when the field is left out, with its unit; `null` where nothing does. */
  readonly default: string | null;
  readonly choices: readonly string[];
}

/** What is kept in versions: plans or thresholds. */
export interface SettingKind<T> {
  readonly kind: 'plan' | 'thresholds';
  readonly fields: readonly SettingField[];
  /** @throws InputError */
  parse(value: unknown, source: string): T;
}

const meanings: Readonly<Record<string, string>> = {
  plan: 'the name that pages, records and certificates show',
  thresholds: 'the name that pages and records show',
  cycles: 'how many pressurisations make a run',
  allowTopUp: 'whether a pump stroke during the hold is allowed; its rise then counts as drop',
  decisionRule: 'guarded keeps a distance of the measurement uncertainty from each limit, simple does not',
  allowOverdueCalibration: 'whether a run may pass although the calibration is overdue',
};

const label = (key: string): string => {
  const words = key.replace('.', ' ').replaceAll(/([a-z])([A-Z])/g, '$1 $2').toLowerCase();
  return words === 'plan' || words === 'thresholds' ? 'Name' : `${words.charAt(0).toUpperCase()}${words.slice(1)}`;
};

function fieldsOf(shape: Readonly<Record<string, unknown>>, within = ''): SettingField[] {
  return Object.entries(shape).flatMap(([name, schema]): SettingField[] => {
    const inner = bare(schema);
    const key = `${within}${name}`;
    const rule = ruleIn(schema);
    if (rule === null && inner instanceof z.ZodObject) return fieldsOf(inner.shape, `${key}.`);
    const given = defaultOf(schema);
    const standing = { key, label: label(key), needed: schema === inner, default: given === undefined ? null : writtenValue(given, rule) };
    if (rule !== null) return [{ ...standing, kind: 'quantity', meaning: rule.meaning, range: rule.range, example: rule.example, choices: [] }];
    const meaning = meanings[key] ?? '';
    if (inner instanceof z.ZodBoolean) return [{ ...standing, kind: 'switch', meaning, range: '', example: 'true', choices: ['true', 'false'] }];
    if (inner instanceof z.ZodEnum) return [{ ...standing, kind: 'choice', meaning, range: '', example: String(inner.options[0]), choices: inner.options.map(String) }];
    if (inner instanceof z.ZodNumber) return [{ ...standing, kind: 'count', meaning, range: `${inner.minValue ?? ''} to ${inner.maxValue ?? ''}`, example: '3', choices: [] }];
    return [{ ...standing, kind: 'text', meaning, range: '', example: '', choices: [] }];
  });
}

export const planKind: SettingKind<Plan> = { kind: 'plan', fields: fieldsOf(planSchema.shape), parse: parsePlan };
export const thresholdsKind: SettingKind<Thresholds> = { kind: 'thresholds', fields: fieldsOf(thresholdsSchema.shape), parse: parseThresholds };

/** What the text of a plan or of thresholds means. @param source for sentences @throws InputError */
export function meaningOf<T>(kind: SettingKind<T>, text: string, source: string): T {
  return yamlOf(text, source).check((value, from) => kind.parse(value, from));
}

/** A member of an object by its path, `riseRate.maximum`. */
export function memberAt(value: unknown, key: string): unknown {
  return key.split('.').reduce<unknown>((part, name) => (typeof part === 'object' && part !== null && Object.hasOwn(part, name) ? (part as Record<string, unknown>)[name] : undefined), value);
}

/** What stands in the text for each field; `null` where it is left out. @throws InputError where it is no YAML */
export function writtenFields<T>(kind: SettingKind<T>, text: string, source: string): (SettingField & { readonly written: string | null })[] {
  const { value } = yamlOf(text, source);
  return kind.fields.map((field) => {
    const found = memberAt(value, field.key);
    return { ...field, written: found === undefined || found === null ? null : typeof found === 'string' ? found : JSON.stringify(found) };
  });
}
