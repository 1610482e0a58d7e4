import { describe, expect, it } from 'vitest';
import { folderWith, namesIn, run } from './run-cli.js';

const points = 'reference_bar,reading_bar\n0,0.3\n120,120.6\n240,240.9\n360,361.0\n480,481.3\n600,601.4\n600,601.4\n480,481.7\n360,361.5\n240,241.3\n120,120.9\n0,0.3\n';
const words = ['--certificate', 'K-2026-0117', '--instrument-serial', 'T-40881', '--date', '2026-03-01', '--due', '2027-03-01', '--laboratory', 'own bench'];
const bench = (block: string): string => `bench: Bay 2
channels:
  - channel: pressure
    input: { driver: tcp-line, host: 127.0.0.1, port: 4001 }
    unit: bar
    range: { upper: 600 bar }
${block.replaceAll(/^(?=.)/gm, '    ')}`;

describe('calibrate', () => {
  it('writes a block that a bench file takes, and tells people the rest', async () => {
    const folder = folderWith({ 'points.csv': points });
    const { code, stdout, stderr } = await run(folder, 'calibrate', 'points.csv', '--range', '0 to 600 bar', ...words);
    expect(code).toBe(0);
    expect(stdout).toBe(`# straight line through 12 points of points.csv
calibration:
  certificate: K-2026-0117
  date: 2026-03-01
  due: 2027-03-01
  serial: T-40881
  laboratory: own bench
  uncertainty: 0.62 bar
  coefficients:
    constant: -0.484453824 bar
    linear: 0.998121421
`);
    expect(stderr).toContain('1 run up, 1 down');
    expect(stderr).toContain('hysteresis     0.083 %');
    expect(stderr).toMatch(/ 600\.00 +601\.40 +599\.79 +0\.21$/m);
    expect(stderr).toContain('the uncertainty of the reference itself is not in it');
    expect(namesIn(folder)).toEqual(['points.csv']);
    const checked = await run(folderWith({ 'bench.yaml': bench(stdout) }), 'check', 'bench.yaml');
    expect(checked).toEqual({ code: 0, stdout: 'bench.yaml: a bench without errors\n', stderr: '' });
  });

  it('writes a quadratic that a bench file takes, and says what it assumed', async () => {
    const { code, stdout, stderr } = await run(folderWith({ 'points.csv': points }), 'calibrate', 'points.csv', '--degree', '2', '--date', '2026-03-01');
    expect(code).toBe(0);
    expect(stdout).toMatch(/^ {4}quadratic: /m);
    expect(stderr).toContain("no --certificate: 'in-house calibration' is written in its place\nno --instrument-serial: 'not stated' is written in its place\nno --due: one year, to 2027-02-28\n");
    expect((await run(folderWith({ 'bench.yaml': bench(stdout) }), 'check', 'bench.yaml')).code).toBe(0);
  });

  it('gives every figure as JSON', async () => {
    const { stdout, stderr } = await run(folderWith({ 'points.csv': points }), 'calibrate', 'points.csv', '--json', ...words);
    expect(JSON.parse(stdout)).toMatchObject({
      certificate: 'K-2026-0117', serial: 'T-40881', linear: { value: expect.closeTo(0.998121421, 8) as unknown }, quadratic: null,
      figures: { hysteresis: expect.closeTo(0.0833, 3) as unknown, repeatability: null }, degreesOfFreedom: 10,
    });
    expect(stderr).toBe('');
  });

  it.each<[string, string, readonly string[], string]>([
    ['two points', 'reference_bar,reading_bar\n0,0\n600,601\n', [], 'points.csv: 2 points are too few for a straight line; take at least 3, better 6 or more, up and down\n'],
    ['a wrong sign', 'reference_bar,reading_bar\n0,0\n300,-300\n600,-600\n', [], 'points.csv: the reading falls while the reference rises; are the columns, the sign or the wires the right way round?\n'],
    ['a due day before the day', points, ['--date', '2026-03-01', '--due', '2025-03-01'], "calibrate: --due: '2025-03-01' should not be before the day of the calibration, 2026-03-01\n"],
    ['a day that does not exist', points, ['--due', '2027-02-30'], "error: option '--due <day>' argument '2027-02-30' is invalid. It should be a day such as 2027-03-01.\n"],
    ['a degree that is not made', points, ['--degree', '3'], "error: option '--degree <number>' argument '3' is invalid. It should be 1 for a straight line or 2 for a quadratic.\n"],
  ])('refuses %s: one sentence, exit code 2, no block', async (_what, csv, args, sentence) => {
    expect(await run(folderWith({ 'points.csv': csv }), 'calibrate', 'points.csv', ...args)).toEqual({ code: 2, stdout: '', stderr: sentence });
  });
});
