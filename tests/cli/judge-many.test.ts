import { describe, expect, it } from 'vitest';
import type { Outcome } from '../../src/core/outcome.js';
import { plan, recording } from './bench-recording.js';
import { folderWith, namesIn, run } from './run-cli.js';

type Line = Partial<Outcome> & { readonly file: string; readonly error?: string };
const linesOf = (stdout: string) => stdout.trim().split('\n').map((line) => JSON.parse(line) as Line);

const three = {
  'a-good.csv': recording(),
  'a-good.plan.yaml': plan,
  'b-high.csv': recording({ top: 612 }),
  'b-high.plan.yaml': plan,
  'c-short.csv': recording({ watched: 50 }),
  'c-short.plan.yaml': plan,
};

describe('judge-many', () => {
  it('prints one line a trace in the order of names, and exits with the worst verdict', async () => {
    const folder = folderWith(three);
    const { code, stdout, stderr } = await run(folder, 'judge-many', '.', '--json-lines', '--jobs', '2');
    expect(linesOf(stdout).map(({ file, verdict }) => [file, verdict])).toEqual([
      ['a-good.csv', 'pass'],
      ['b-high.csv', 'fail'],
      ['c-short.csv', 'inconclusive'],
    ]);
    expect(stderr).toBe('');
    expect(code).toBe(1);
    expect(namesIn(folder)).toEqual(Object.keys(three).sort());
  });

  it('says in a line what judge says of the file alone', async () => {
    const folder = folderWith(three);
    const many = await run(folder, 'judge-many', '.', '--json-lines');
    const alone = await run(folder, 'judge', 'b-high.csv', '--plan', 'b-high.plan.yaml', '--json');
    const line = linesOf(many.stdout).find(({ file }) => file === 'b-high.csv');
    expect(line).toEqual({ file: 'b-high.csv', ...(JSON.parse(alone.stdout) as Outcome) });
  });

  it('gives a line with an error for what cannot be judged, goes on, and exits 2', async () => {
    const folder = folderWith({ ...three, 'd-text.csv': 'time_s,pressure_bar\n0,1.5\n1,none\n2,3.5\n', 'd-text.plan.yaml': plan, 'e-alone.csv': recording() });
    const { code, stdout } = await run(folder, 'judge-many', '.', '--json-lines');
    const lines = linesOf(stdout);
    expect(lines).toHaveLength(5);
    expect(lines[0]?.verdict).toBe('pass');
    expect(lines[3]).toEqual({ file: 'd-text.csv', error: "d-text.csv: line 3: 'none' in column 'pressure_bar' is not a number" });
    expect(lines[4]?.error).toContain('has no plan beside it; add e-alone.plan.yaml');
    expect(code).toBe(2);
  });

  it('takes the thresholds beside a trace before the common ones', async () => {
    const folder = folderWith({
      'a.csv': recording(), 'a.plan.yaml': plan, 'a.thresholds.yaml': 'thresholds: beside\n',
      'b.csv': recording(), 'b.plan.yaml': plan,
      'common.yaml': 'thresholds: common\n',
    });
    const { stdout } = await run(folder, 'judge-many', '.', '--thresholds', 'common.yaml');
    expect(linesOf(stdout).map(({ thresholds }) => thresholds)).toEqual(['beside', 'common']);
  });

  it('judges more traces than may wait at once, in order, whatever the number of threads', async () => {
    const short = recording({ watched: 5 });
    const files = Object.fromEntries(Array.from({ length: 90 }, (_, i) => [`run-${String(i).padStart(3, '0')}.csv`, short]));
    const folder = folderWith({ ...files, 'plan.yaml': plan });
    const one = await run(folder, 'judge-many', '.', '--plan', 'plan.yaml', '--jobs', '1', '--progress');
    const two = await run(folder, 'judge-many', '.', '--plan', 'plan.yaml', '--jobs', '2');
    expect(linesOf(one.stdout).map(({ file }) => file)).toEqual(Object.keys(files).sort());
    expect(two.stdout).toBe(one.stdout);
    expect(one.stderr).toContain('90 of 90 judged, 0 fail');
  });

  it.each([
    ['a folder that is not there', 'nowhere', 'nowhere: there is no such folder\n'],
    ['a file', 'plan.yaml', 'plan.yaml: is a file; give a folder\n'],
    ['a folder without traces', '.', '.: holds no trace; it should hold NAME.csv files with NAME.plan.yaml beside each\n'],
  ])('refuses %s', async (_what, folder, sentence) => {
    const ended = await run(folderWith({ 'plan.yaml': plan }), 'judge-many', folder, '--json-lines');
    expect(ended).toEqual({ code: 2, stdout: '', stderr: sentence });
  });
});
