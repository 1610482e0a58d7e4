/**
 * The judge on measured traces of other people. None is a hose test, so none may pass; what is known of each from its
 * authors is compared. Sources: EvaZillen/3D-printed-pneumatic-actuator (CC0), WHUTBIN/WHUTpipelines-dataset (MIT by its
 * README), RespiraWorks/Ventilator (Apache-2.0), waico/SKAB (GPL-3.0, Katser and Kozitsin 2020), itsBelinda/
 * oscillometric_blood_pressure (GPL-2.0). Excerpts under free licences are in the repository; the whole files are used
 * where the folder with them is present.
 */
import { existsSync, readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { importTrace } from '../../src/core/import/import-trace.js';
import type { ImportOptions } from '../../src/core/import/import-options.js';
import { judge } from '../../src/core/judge.js';
import type { Outcome } from '../../src/core/outcome.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';

const folder = fileURLToPath(new URL('../../../shared/data/', import.meta.url));
const excerpts = fileURLToPath(new URL('../fixtures/measured/', import.meta.url));

const plan = (test: string, more: Record<string, unknown> = {}) =>
  parsePlan({ plan: 'not a hose test', testPressure: test, holdTime: '30 s', maximumDrop: '3 %', ...more }, 'plan');

interface Case {
  readonly file: string;
  readonly options: ImportOptions;
  readonly test: string;
}
const chamber: ImportOptions = { column: '3', unit: 'bar', timeUnit: 'ms' };
const known: readonly Case[] = [
  { file: 'chamber-grouped-times.csv', options: chamber, test: '7 bar' },
  { file: 'piston-tabs.csv', options: { column: '6', unit: 'bar', timeUnit: 'ms' }, test: '5 bar' },
  { file: 'loop-minutes.csv', options: { column: 'pre1', unit: 'MPa' }, test: '1.8 bar' },
  { file: 'loop-dates.csv', options: { column: 'pre2', unit: 'MPa' }, test: '7.4 bar' },
];
const whole: readonly Case[] = [
  ...['Aluminium', 'Prusa', 'Ultimaker_010', 'Ultimaker_015'].map((name) => ({ file: `air-chamber-decay/${name}.csv`, options: chamber, test: '7 bar' })),
  { file: 'air-chamber-decay/friction-Kidney_lc_7bar.csv', options: { column: '6', unit: 'bar', timeUnit: 'ms' }, test: '7 bar' },
  { file: 'test-lung-100hz/disconnected.dat', options: { column: 'pressure', unit: 'cmH2O' }, test: '0.02 bar' },
  { file: 'test-lung-100hz/quicklung-3.dat', options: { column: 'pressure', unit: 'cmH2O' }, test: '0.02 bar' },
  { file: 'test-lung-100hz/fan100', options: { column: 'pressure', unit: 'cmH2O' }, test: '0.038 bar' },
  { file: 'cuff-1khz/data0804-raw.dat', options: { column: '2', unit: 'mmHg', timeUnit: 's' }, test: '0.26 bar' },
  { file: 'skab/valve1-0.csv', options: { column: 'Pressure', unit: 'bar' }, test: '0.3 bar' },
  { file: 'skab/anomaly-free-anomaly-free.csv', options: { column: 'Pressure', unit: 'bar' }, test: '0.3 bar' },
  { file: 'pipeline-10hz/3bengzc.csv', options: { column: 'pre1', unit: 'MPa' }, test: '5.6 bar' },
];

function judged(path: string, { file, options, test }: Case): Outcome[] {
  const { trace, report } = importTrace(readFileSync(path + file), file, options);
  return judge(trace, plan(test), standardThresholds, report.resolution === null ? {} : { resolution: report.resolution });
}

/** Every outcome says in sentences why it is what it is, and holds no number that is none. */
function sound(outcomes: readonly Outcome[]): void {
  expect(outcomes.length).toBeGreaterThan(0);
  for (const o of outcomes) {
    expect(o.verdict).not.toBe('pass');
    expect(o.findings.some((f) => f.outcome !== 'met')).toBe(true);
    for (const f of o.findings) expect(f.sentence).toMatch(/^[A-Z0-9].*\.$/s);
    expect(JSON.stringify(o)).not.toMatch(/NaN|Infinity/);
  }
}

describe('measured traces are read and never passed', () => {
  it.each(known.map((c) => [c.file, c] as const))('excerpt %s', (_name, c) => sound(judged(excerpts, c)));

  it('whole files, where they are present', () => {
    const present = whole.filter((c) => existsSync(folder + c.file));
    expect(present.length === 0 || present.length === whole.length).toBe(true);
    for (const c of present) sound(judged(folder, c));
  });

  it('says of a transducer with steps of a third of a bar that they are too coarse for the limit', () => {
    if (!existsSync(`${folder}skab/valve1-0.csv`)) return expect(existsSync(folder)).toBe(false);
    const outcomes = judged(folder, { file: 'skab/valve1-0.csv', options: { column: 'Pressure', unit: 'bar' }, test: '0.3 bar' });
    const said = outcomes.flatMap((o) => [...o.findings.map((f) => f.sentence), ...o.notes]).join(' ');
    expect(said).toMatch(/too coarse for a limit/);
  });

  it('a chamber that leaks badly is seen to leak: 7.65 bar lost to nothing within 144 s', () => {
    if (!existsSync(`${folder}air-chamber-decay/Ultimaker_015.csv`)) return expect(existsSync(folder)).toBe(false);
    const o = judged(folder, { file: 'air-chamber-decay/Ultimaker_015.csv', options: chamber, test: '7 bar' })[0];
    expect(o?.verdict).not.toBe('pass');
    expect(o?.cycles[0]?.peak).toBeGreaterThan(7.64);
    expect(o?.cycles[0]?.peak).toBeLessThan(7.67);
  });
});
