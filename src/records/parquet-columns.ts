import type { SchemaElement } from 'hyparquet-writer';
import type { Anchor } from './channels.js';
import { labelsIn } from './run-labels.js';
import type { RunStory } from './run-story.js';

/** Columns of a piece of a table; all of one length. */
export type Columns = readonly { readonly name: string; readonly data: readonly unknown[] | Float64Array | Int32Array | BigInt64Array }[];

const root = (count: number): SchemaElement => ({ name: 'root', num_children: count });
const column = (name: string, type: 'DOUBLE' | 'INT32' | 'INT64', required = false): SchemaElement => ({ name, type, repetition_type: required ? 'REQUIRED' : 'OPTIONAL' });
const text = (name: string): SchemaElement => ({ name, type: 'BYTE_ARRAY', converted_type: 'UTF8', repetition_type: 'OPTIONAL' });
const moment = (name: string, required = false): SchemaElement => ({
  name, type: 'INT64', repetition_type: required ? 'REQUIRED' : 'OPTIONAL', converted_type: 'TIMESTAMP_MICROS',
  logical_type: { type: 'TIMESTAMP', isAdjustedToUTC: true, unit: 'MICROS' },
});

/**
 * A trace: time on its own clock (s), the wall clock (UTC), pressure (bar, null where there was no reading), `Flag` bits.
 * In the order received; nothing is left out.
 */
export const traceSchema: SchemaElement[] = [root(4), column('time_s', 'DOUBLE', true), moment('time', true), column('pressure_bar', 'DOUBLE'), column('flags', 'INT32', true)];

/** @param anchors wall clock of the trace, by time */
export function traceColumns({ time, pressure, flags }: { readonly time: Float64Array; readonly pressure: Float64Array; readonly flags: Uint8Array }, anchors: readonly Anchor[]): Columns {
  return [
    { name: 'time_s', data: time },
    { name: 'time', data: BigInt64Array.from(time, (t) => BigInt(Math.round(1000 * wallAt(anchors, t)))) },
    { name: 'pressure_bar', data: Array.from(pressure, (p) => (Number.isFinite(p) ? p : null)) },
    { name: 'flags', data: Int32Array.from(flags) },
  ];
}

/** ms since 1970, by the newest anchor that is not later. */
function wallAt(anchors: readonly Anchor[], time: number): number {
  const anchor = anchors.findLast((other) => other.time <= time) ?? anchors[0];
  return anchor === undefined ? 0 : anchor.wall + 1000 * (time - anchor.time);
}

const runTexts = ['bench', 'plan', 'verdict', 'result', 'state', 'order', 'customer', 'hose', 'fitting', 'assemblies', 'operator', 'known', 'thresholds', 'findings', 'seal'] as const;
const runNumbers = ['settled_s', 'hold_end_s', 'peak_bar', 'hold_start_bar', 'hold_minimum_bar', 'drop_bar', 'leak_bar_per_min', 'leak_standard_error_bar_per_min'] as const;
const runCounts = ['cycles', 'strokes', 'spikes', 'glitches'] as const;

/** A line a run: what it was, what it came to, the figures of its first cycle, the findings as JSON. */
export const runsSchema: SchemaElement[] = [
  root(3 + runTexts.length + runNumbers.length + runCounts.length),
  column('run', 'INT32', true), moment('from', true), moment('to'), ...runTexts.map(text), ...runNumbers.map((name) => column(name, 'DOUBLE')), ...runCounts.map((name) => column(name, 'INT32')),
];

/** Some lines of the table of runs. @param sealOf seal of the record of a run */
export function runColumns(stories: readonly RunStory[], sealOf: (run: number) => string | null): Columns {
  const rows = stories.map((story) => {
    const { run, job, judgement: { outcome, thresholds }, result, entries } = story;
    const [cycle] = outcome.cycles;
    const count = (kind: string) => outcome.events.filter((event) => event.kind === kind).length;
    const row: Record<string, unknown> = {
      run: run.number, from: BigInt(Math.round(1000 * run.fromWall)), to: run.toWall === null ? null : BigInt(Math.round(1000 * run.toWall)),
      bench: run.bench, plan: outcome.plan, verdict: outcome.verdict, result, state: run.state, order: job?.order, customer: job?.customer, hose: job?.hose,
      fitting: job?.fitting, assemblies: job?.assemblies?.join(' '), operator: job?.operator, known: labelsIn(entries.map(({ entry }) => entry)).truth,
      thresholds, findings: JSON.stringify(outcome.findings), seal: sealOf(run.number),
      settled_s: cycle?.settled, hold_end_s: cycle?.holdEnd, peak_bar: cycle?.peak, hold_start_bar: cycle?.holdStartPressure, hold_minimum_bar: cycle?.holdMinimum,
      drop_bar: cycle?.drop, leak_bar_per_min: cycle?.leak?.rate, leak_standard_error_bar_per_min: cycle?.leak?.standardError,
      cycles: outcome.cycles.length, strokes: cycle?.strokes, spikes: count('spike'), glitches: count('glitch'),
    };
    return row;
  });
  return runsSchema.slice(1).map(({ name }) => ({ name, data: rows.map((row) => row[name] ?? null) }));
}
