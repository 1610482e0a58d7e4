import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { parse } from 'yaml';
import { z } from 'zod';
import { importTrace } from '../../src/core/import/import-trace.js';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { inputError } from '../../src/core/problems.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import type { Truth } from '../truth.js';
import { compare, type Comparison } from './compare.js';

/** Runs of a folder, compared with what is true of them. */
export interface Recorded {
  readonly all: readonly Comparison[];
  /** Files that are left out, a sentence each. */
  readonly leftOut: readonly string[];
}

/** What tells a whole truth, as `simulate` writes it, from the label that a person gave. */
const wholeTruth = z.looseObject({
  scenario: z.string(), verdict: z.string(), decidable: z.boolean(), acceptable: z.array(z.string()), cycles: z.array(z.unknown()), events: z.array(z.unknown()),
  findings: z.array(z.unknown()), observable: z.boolean(), signal: z.looseObject({ rate: z.number() }), instrument: z.looseObject({}),
});

/**
 * Judges NAME.csv by NAME.plan.yaml, NAME.thresholds.yaml (where there is one) and the instrument of NAME.truth.json.
 * @throws InputError where the folder or a file of it cannot be read, or nothing in it can be compared
 */
export function recorded(folder: string): Recorded {
  const files = namesIn(folder).filter((name) => name.endsWith('.truth.json')).sort();
  if (files.length === 0) throw inputError(folder, '', 'holds no NAME.truth.json; make some with: dwellkeeper simulate --as folder --at FOLDER');
  const leftOut: string[] = [];
  const all: Comparison[] = [];
  for (const file of files) {
    const truth = truthIn(folder, file);
    if (truth === null) leftOut.push(`${join(folder, file)}: left out: it says only a label; the table needs the whole truth, as dwellkeeper simulate writes it`);
    else all.push(judged(folder, file.slice(0, -'.truth.json'.length), truth));
  }
  if (all.length === 0) throw inputError(folder, '', 'holds no NAME.truth.json with the whole truth, as dwellkeeper simulate writes it; for runs with a label alone use: dwellkeeper tune FOLDER');
  return { all, leftOut };
}

function judged(folder: string, name: string, truth: Truth): Comparison {
  const path = (suffix: string) => join(folder, `${name}${suffix}`);
  const plan = parsePlan(yamlIn(path('.plan.yaml')), path('.plan.yaml'));
  const own = existsSync(path('.thresholds.yaml'));
  const thresholds = parseThresholds(own ? yamlIn(path('.thresholds.yaml')) : undefined, path('.thresholds.yaml'));
  const { trace, report } = importTrace(textIn(path('.csv')), path('.csv'));
  const instrument = { ...(report.resolution === null ? {} : { resolution: report.resolution }), ...truth.instrument };
  return compare(name, judge(trace, plan, thresholds, instrument), truth, plan);
}

/** `null` where it says less than the table compares. */
function truthIn(folder: string, file: string): Truth | null {
  const text = textIn(join(folder, file));
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch (cause) {
    throw inputError(join(folder, file), '', 'is not JSON; it should be for example {"label":"truly leaking"}', cause);
  }
  return wholeTruth.safeParse(value).success ? (value as Truth) : null;
}

function yamlIn(path: string): unknown {
  try {
    return parse(textIn(path));
  } catch (cause) {
    if (!(cause instanceof Error) || !cause.name.startsWith('YAML')) throw cause;
    throw inputError(path, '', 'is not valid YAML', cause);
  }
}

function textIn(path: string): string {
  try {
    return readFileSync(path, 'utf8');
  } catch (cause) {
    throw inputError(path, '', `cannot be read (${codeOf(cause)})`, cause);
  }
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch (cause) {
    const code = codeOf(cause);
    throw inputError(folder, '', code === 'ENOENT' ? 'there is no such folder' : code === 'ENOTDIR' ? 'is a file; give a folder' : `cannot be read (${code})`, cause);
  }
}

const codeOf = (cause: unknown): string => (cause as NodeJS.ErrnoException).code ?? String(cause);
