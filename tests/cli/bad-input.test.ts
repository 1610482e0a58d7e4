import { describe, expect, it } from 'vitest';
import { plan, recording } from './bench-recording.js';
import { folderWith, namesIn, run } from './run-cli.js';

const trace = recording({ watched: 5 });

/** What is wrong, the files, and the one sentence. `judge trace.csv --plan plan.yaml` in each case. */
const cases: readonly [string, Readonly<Record<string, string>>, string][] = [
  ['an unknown plan key', { 'trace.csv': trace, 'plan.yaml': plan.replace('maximumDrop', 'maximunDrop') }, "plan.yaml: line 5, maximunDrop: unknown key; did you mean 'maximumDrop'?"],
  ['a pressure without a unit', { 'trace.csv': trace, 'plan.yaml': plan.replace('550 bar', '550') }, "plan.yaml: line 2, testPressure: '550' has no unit; write for example '550 bar'"],
  ['a ceiling below the test pressure', { 'trace.csv': trace, 'plan.yaml': plan.replace('600 bar', '500 bar') }, 'plan.yaml: line 6, ceilingPressure: 500 bar is not above the test pressure of 550 bar; the ceiling must leave room over it'],
  ['a plan that is a list', { 'trace.csv': trace, 'plan.yaml': '- 550 bar\n' }, "plan.yaml: holds no 'key: value' lines"],
  ['a trace in the place of a plan', { 'trace.csv': trace, 'plan.yaml': trace }, "plan.yaml: is a trace, not a file of 'key: value' lines such as a plan or a bench file"],
  ['a letter in the place of a plan', { 'trace.csv': trace, 'plan.yaml': 'Dear all,\nthe plan follows later.\n'.repeat(50) }, "plan.yaml: holds no 'key: value' lines"],
  ['a value as long as a page', { 'trace.csv': trace, 'plan.yaml': plan.replace('550 bar', 'x'.repeat(5000)) }, `plan.yaml: line 2, testPressure: '${'x'.repeat(60)}...' is not a number with a unit; write for example '550 bar'`],
  ['a decimal comma', { 'trace.csv': trace, 'plan.yaml': plan.replace('550 bar', '550,5 bar') }, "plan.yaml: line 2, testPressure: '550,5 bar' has a comma; write the decimal sign as a point, for example '550.5 bar'"],
  ['a plan without its test pressure', { 'trace.csv': trace, 'plan.yaml': plan.replace('testPressure: 550 bar\n', '') }, "plan.yaml: testPressure: is missing; it should be a number with its unit, for example '550 bar'"],
  ['an empty plan', { 'trace.csv': trace, 'plan.yaml': '\n' }, 'plan.yaml: the file is empty'],
  ['a key that is given twice', { 'trace.csv': trace, 'plan.yaml': `${plan}holdTime: 30 s\n` }, 'plan.yaml: line 7: is not valid YAML: map keys must be unique'],
  ['a plan that is not there', { 'trace.csv': trace }, 'plan.yaml: there is no such file'],
  ['a trace that is not there', { 'plan.yaml': plan }, 'trace.csv: there is no such file'],
  ['an empty trace', { 'trace.csv': '', 'plan.yaml': plan }, 'trace.csv: the file is empty; a trace has a header such as time_s,pressure_bar and a row for each sample'],
  ['a trace of zero bytes left by a power cut', { 'trace.csv': '\0'.repeat(512), 'plan.yaml': plan }, 'trace.csv: the file holds nothing but zero bytes, perhaps after a power cut; use a good copy'],
  ['a trace that is only a header', { 'trace.csv': 'time_s,pressure_bar\n', 'plan.yaml': plan }, "trace.csv: there is only a header ('time_s,pressure_bar') and no sample below it"],
  ['text in a number column', { 'trace.csv': 'time_s,pressure_bar\n0,1.5\n1,ERR\n2,2.5\n', 'plan.yaml': plan }, "trace.csv: line 3: 'ERR' in column 'pressure_bar' is not a number"],
];

describe('bad input', () => {
  it.each(cases)('%s: one sentence, exit code 2, nothing written', async (_what, files, sentence) => {
    const folder = folderWith(files);
    const ended = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml');
    expect(ended).toEqual({ code: 2, stdout: '', stderr: `${sentence}\n` });
    expect(namesIn(folder)).toEqual(Object.keys(files).sort());
  });

  it('tells what is wrong with plan and thresholds in one go', async () => {
    const folder = folderWith({ 'trace.csv': trace, 'plan.yaml': plan.replace('60 s', '60'), 't.yaml': 'spikeHight: 1 %\n' });
    const { code, stderr } = await run(folder, 'judge', 'trace.csv', '--plan', 'plan.yaml', '--thresholds', 't.yaml');
    expect(stderr).toBe("plan.yaml: line 3, holdTime: '60' has no unit; write for example '60 s'\nt.yaml: line 1, spikeHight: unknown key; did you mean 'spikeHeight'?\n");
    expect(code).toBe(2);
  });

  it.each([
    [['judge'], /missing required argument 'trace'/],
    [['judge', 'trace.csv', '--plam', 'plan.yaml'], /unknown option '--plam'\n\(Did you mean --plan\?\)/],
    [['judge', 'trace.csv', '--unit', 'torr'], /'torr' is invalid. It should be one of bar, mbar, Pa/],
    [['judge', 'trace.csv', '--range', '1000'], /It should be two pressures, for example '0 to 1000 bar'/],
    [['jugde', 'trace.csv'], /unknown command 'jugde'\n\(Did you mean judge\?\)/],
    [['judge-many', '.', '--jobs', '0'], /whole number from 1 to 256/],
  ])('%j is refused with exit code 2', async (args, sentence) => {
    const { code, stdout, stderr } = await run(folderWith({ 'trace.csv': trace }), ...args);
    expect(stderr).toMatch(sentence);
    expect(stdout).toBe('');
    expect(code).toBe(2);
  });
});
