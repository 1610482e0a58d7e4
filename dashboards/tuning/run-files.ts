import { parse } from 'yaml';
import { importTrace } from '../../src/core/import/import-trace.js';
import { parsePlan, type Plan } from '../../src/core/plan.js';
import { InputError, inputError } from '../../src/core/problems.js';
import type { Thresholds } from '../../src/core/thresholds.js';
import type { LoadedRun } from './reading-messages.js';

/** A file by its name, however it came. */
export interface GivenFile {
  readonly name: string;
  bytes(): Promise<Uint8Array>;
}

/** Traces read, and what could not be; each a sentence with its file. */
export interface ReadFiles {
  readonly runs: readonly LoadedRun[];
  readonly problems: readonly string[];
}

const isPlan = (name: string): boolean => /\.ya?ml$/i.test(name);
const stem = (name: string): string => name.replace(/(\.plan)?\.[^.]+$/i, '');

/**
 * Reads traces and their plans. `NAME.plan.yaml` belongs to `NAME.csv`; any other plan to all traces that have none of their own.
 * @param own the thresholds that files are judged by, before anything is changed
 */
export async function readFiles(files: readonly GivenFile[], own: Thresholds): Promise<ReadFiles> {
  const problems: string[] = [];
  const attempt = async <T>(work: () => Promise<T>): Promise<T | null> => {
    try {
      return await work();
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      problems.push(error.message);
      return null;
    }
  };
  const plans = new Map<string, Plan>();
  for (const file of files.filter(({ name }) => isPlan(name))) {
    const plan = await attempt(async () => planIn(file.name, new TextDecoder().decode(await file.bytes())));
    if (plan !== null) plans.set(stem(file.name), plan);
  }
  const traces = files.filter(({ name }) => !isPlan(name));
  if (traces.length === 0) problems.push('There is no trace among these files: add a .csv.');
  const common = [...plans].filter(([name]) => !traces.some((trace) => stem(trace.name) === name)).map(([, plan]) => plan);
  const runs: LoadedRun[] = [];
  for (const file of traces) {
    const plan = plans.get(stem(file.name)) ?? (common.length === 1 ? common[0] : undefined) ?? (plans.size === 1 ? [...plans.values()][0] : undefined);
    if (plan === undefined) {
      problems.push(`${file.name}: no plan for it; add ${stem(file.name)}.plan.yaml, or one plan for all.`);
      continue;
    }
    const imported = await attempt(async () => importTrace(await file.bytes(), file.name));
    if (imported === null) continue;
    // As `judge` reads a file: nothing is known of the instrument but what the readings show.
    runs.push({ id: file.name, trace: imported.trace, plan, own, instrument: null, recorded: null });
  }
  return { runs, problems };
}

function planIn(name: string, text: string): Plan {
  let value: unknown;
  try {
    value = parse(text);
  } catch (cause) {
    throw inputError(name, '', `is not valid YAML: ${cause instanceof Error ? (cause.message.split('\n')[0] ?? '') : String(cause)}`, cause);
  }
  return parsePlan(value, name);
}
