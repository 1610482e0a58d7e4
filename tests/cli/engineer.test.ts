import { existsSync, mkdtempSync, readFileSync, rmSync, symlinkSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { parseThresholds } from '../../src/core/thresholds.js';
import type { CapabilityReport } from '../../src/tuning/capability-report.js';
import type { SweepReport } from '../../src/tuning/sweep.js';
import type { Compared } from '../../src/tuning/tasks.js';
import { FlipReport, whatWouldFlip, type FlipSummary } from '../../src/tuning/what-would-flip.js';
import { writeRuns } from '../../simulators/run-files.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { storeOfRuns, testSoftware } from '../tuning/store-of-runs.js';
import { until } from '../server/until.js';
import { folderWith, run, start } from './run-cli.js';

let folder: string;
const bolder = 'thresholds: bolder\nspikeHeight: 3 %\nsettleSlope: 3 %/min\nquietTime: 4 s\n';

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-engineer-'));
  storeOfRuns(join(folder, 'records.sqlite'), ['live-pass', 'live-drop', 'leak-grows', 'live-vent-early'].map((name) => runScenario(name, 2)));
  await writeRuns(join(folder, 'traces'), ['leak-grows', 'pass-plain'], 1);
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

const bolderFile = () => join(folderWith({ 'bolder.yaml': bolder }), 'bolder.yaml');

describe('compare as a person runs it', () => {
  it('in threads comes to the same as in one, and says so with its exit code', async () => {
    const { code, stdout } = await run(folder, 'compare', 'records.sqlite', '--thresholds', bolderFile(), '--json', '--jobs', '2');
    const told = JSON.parse(stdout) as { summary: FlipSummary; runs: Compared[] };
    const report = new FlipReport();
    for await (const step of whatWouldFlip({ kind: 'store', path: join(folder, 'records.sqlite'), software: testSoftware }, { thresholds: parseThresholds(parse(bolder), 'bolder.yaml') }, { threads: 0 })) report.take(step);
    expect(told.runs).toEqual(report.runs());
    expect(told.summary).toEqual(report.summary());
    expect(told.summary.flips).toBeGreaterThan(0);
    expect(code).toBe(1);
  }, 180_000);

  it('prints new passes first, with the reason, and writes nothing', async () => {
    const { stdout } = await run(folder, 'compare', 'traces', '--thresholds', bolderFile(), '--jobs', '1');
    expect(stdout).toMatch(/^Would pass now: 1\n {2}leak-grows-1\.csv: fail -> pass \(truly leaking\).*was drop: The pressure fell/);
    expect(stdout).toContain('1 of 2 verdicts would flip.');
    expect(stdout).toContain('1 of the new verdicts contradict what is known of the run.');
  });

  it('Ctrl-C stops it at once, whatever is still to be judged, and says how far it came', async () => {
    const library = folderWith({});
    // More than would be judged within any patience.
    for (let i = 0; i < 2000; i++) symlinkSync(join(folder, 'traces', 'pass-plain-1.csv'), join(library, `${i}.csv`));
    const going = start(folder, 'compare', library, '--plan', join(folder, 'traces', 'pass-plain-1.plan.yaml'), '--jobs', '1', '--json-lines');
    await until('the first run', () => going.said.stdout.includes('\n'), 60_000);
    going.interrupt();
    const { code, stderr, stdout } = await going.ended;
    expect([code, stderr]).toEqual([130, expect.stringMatching(/^Stopped after \d+ of 2000 runs; nothing was written\.\n$/)]);
    expect(stdout.trim().split('\n').length).toBeLessThan(1000);
  });

  it('ends with 0 where nothing flips', async () => {
    const { code, stdout } = await run(folder, 'compare', 'traces', '--thresholds', join(folderWith({ 'same.yaml': 'thresholds: same\n' }), 'same.yaml'), '--jobs', '1');
    expect([code, stdout]).toEqual([0, expect.stringContaining('No verdict of 2 would flip.')]);
  });

  it.each<[readonly string[], RegExp]>([
    [['compare', 'records.sqlite'], /say what to try: --thresholds NEW\.yaml/],
    [['compare', 'nothing-there', '--plan', 'x.yaml'], /x\.yaml: there is no such file/],
    [['tune', 'traces', '--sweep', 'spikeHeigth=1..2 %'], /spikeHeigth: unknown threshold; did you mean 'spikeHeight'/],
    [['label', 'records.sqlite', '77', 'truly sound', '--who', 'R. Roe'], /run 77: there is no such run/],
    [['tune', 'traces', '--under', 'zz'], /^traces: holds no run that is over and that is asked for\n$/],
    [['tune', 'records.sqlite', '--since', 'monday'], /^--since: 'monday' should be a day, for example 2027-03-01\n$/],
    [['capability', 'traces', '--hold', '60'], /'60' has no unit/],
  ])('%j is bad input', async (args, sentence) => {
    const { code, stdout, stderr } = await run(folder, ...args);
    expect([code, stdout]).toEqual([2, '']);
    expect(stderr).toMatch(sentence);
  });
});

describe('labels, tune and capability as a person runs them', () => {
  it('a label is appended, a sweep counts it, and only --write writes', async () => {
    expect((await run(folder, 'label', 'records.sqlite', '3', 'truly leaking', '--who', 'R. Roe')).stdout).toBe('run 3: truly leaking\n');
    expect((await run(folder, 'label', 'records.sqlite', '1', 'truly sound', '--who', 'R. Roe')).code).toBe(0);
    const file = join(folder, 'swept.yaml');
    const { stdout } = await run(folder, 'tune', 'records.sqlite', '--sweep', 'settleSlope=0.3..3 %/min/2', '--sweep', 'quietTime=4..10 s/2', '--jobs', '1', '--json');
    const sweep = JSON.parse(stdout) as SweepReport;
    expect(sweep.labelled).toMatchObject({ leaking: 1, sound: 1, unlabelled: 2, groups: 2 });
    expect(sweep.rows.map(({ values }) => values)).toContainEqual({ settleSlope: '3 %/min', quietTime: '4 s' });
    expect(sweep.rows.find(({ values }) => values.settleSlope === '3 %/min' && values.quietTime === '4 s')?.falsePass).toMatchObject({ count: 1, of: 1, share: 1 });
    expect(sweep.present).toMatchObject({ falsePass: { count: 0, of: 1 } });
    expect(existsSync(file)).toBe(false);
    const wrote = await run(folder, 'tune', 'records.sqlite', '--run', '3', '--sweep', 'settleSlope=0.3..3 %/min/2', '--jobs', '1', '--write', 'swept.yaml');
    expect(wrote.stdout).toContain('Written to swept.yaml.');
    expect(parseThresholds(parse(readFileSync(file, 'utf8')), file).settleSlope).toEqual({ kind: 'fraction', value: 0.003 / 60 });
    expect((await run(folder, 'tune', 'records.sqlite', '--sweep', 'settleSlope=0.3..3 %/min/2', '--write', 'swept.yaml')).code).toBe(2);
  }, 300_000);

  it('capability says what a hold tells', async () => {
    const { stdout } = await run(folder, 'capability', 'traces', '--leak-limit', '1.5 bar/min', '--hold', '60 s', '--jobs', '1', '--json');
    const report = JSON.parse(stdout) as CapabilityReport;
    expect(report.holds).toBeGreaterThanOrEqual(1);
    expect(report.asked.limit?.leakLimit).toBeCloseTo(1.5, 9);
    expect(report.asked.hold?.practice).toBeGreaterThan(0);
  });
});
