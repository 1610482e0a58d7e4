import { importTrace } from '../core/import/import-trace.js';
import type { ImportOptions, ImportReport } from '../core/import/import-options.js';
import { judge } from '../core/judge.js';
import type { Outcome } from '../core/outcome.js';
import { parsePlan, type Plan } from '../core/plan.js';
import { parseThresholds, standardThresholds, type Thresholds } from '../core/thresholds.js';
import type { Instrument } from '../core/trace.js';
import { readBytes } from '../files/input-file.js';
import { readYamlFile } from '../files/yaml-file.js';

/** A trace file judged. */
export interface Judged {
  readonly outcomes: readonly Outcome[];
  readonly report: ImportReport;
}

/** @throws InputError */
export const readPlanFile = (path: string): Plan => readYamlFile(path).check(parsePlan);

/** The standard thresholds where no file is named. @throws InputError */
export const readThresholdsFile = (path: string | undefined): Thresholds =>
  path === undefined ? standardThresholds : readYamlFile(path).check(parseThresholds);

/** Reads and judges one trace file. @throws InputError */
export function judgeFile(path: string, plan: Plan | null, thresholds: Thresholds, options: ImportOptions = {}, instrument?: Instrument): Judged {
  const { trace, report } = importTrace(readBytes(path), path, options);
  return { outcomes: instrument === undefined ? judge(trace, plan, thresholds) : judge(trace, plan, thresholds, instrument), report };
}
