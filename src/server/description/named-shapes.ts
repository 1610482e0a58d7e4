import { z } from 'zod';
import { auditEntry, benchLine, envelope, health, person, runSummary } from './bench-shapes.js';
import { change, compared, summary, sweep } from './comparison-shapes.js';
import { foundRuns, groups, runDetail, statistics, traceStretch } from './history-shapes.js';
import { cycle, finding, foundEvent, outcome, plan, planLines } from './outcome-shapes.js';
import { job, jobState, labels, runAbout, runLabels, tuningRun } from './run-shapes.js';
import { check, conflict, difference, field, judgedBy, planInForce, planList, setting, version, versionInfo } from './setting-shapes.js';

/** Every refusal, and what must be corrected where it is about fields. */
export const refusal = z.object({ error: z.string().describe('one sentence'), problems: z.array(z.object({ place: z.string(), text: z.string() })).optional() });

/** Shapes that have a name of their own in the description. */
export const namedShapes = {
  Refusal: refusal, Person: person, Health: health, Bench: benchLine, RunSummary: runSummary, Envelope: envelope, AuditEntry: auditEntry, FoundEvent: foundEvent, Finding: finding, Cycle: cycle, Outcome: outcome, Plan: plan, PlanLines: planLines,
  Job: job, JobState: jobState, RunAbout: runAbout, RunLabels: runLabels, Labels: labels, TuningRun: tuningRun, SettingField: field, Setting: setting, SettingVersion: version, VersionInfo: versionInfo, Difference: difference, Check: check,
  Conflict: conflict, JudgedBy: judgedBy, PlanInForce: planInForce, PlanList: planList, FoundRuns: foundRuns, RunDetail: runDetail, TraceStretch: traceStretch, Groups: groups, Statistics: statistics,
  RunChange: change, Compared: compared, FlipSummary: summary, Sweep: sweep,
} as const satisfies Readonly<Record<string, z.ZodType>>;

const names: ReadonlyMap<unknown, string> = new Map(Object.entries(namedShapes).map(([name, shape]) => [shape, name]));

/** The name of a shape in the description, where it has one. */
export const nameOfShape = (shape: unknown): string | undefined => names.get(shape);
