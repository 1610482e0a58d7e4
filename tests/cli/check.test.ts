import { mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { plan, recording } from './bench-recording.js';
import { folderWith, run } from './run-cli.js';

const bench = `bench: manifold 1
channels:
  - channel: pressure
    input:
      driver: tcp-line
      host: 127.0.0.1
      port: 4001
    unit: bar
    range: { upper: 1000 bar }
`;

describe('check', () => {
  it('tells plan, thresholds and traces apart by their content and finds nothing wrong', async () => {
    const folder = folderWith({ 'one.yaml': plan, 'two.yaml': 'spikeHeight: 1 %\n', 'run.csv': recording({ watched: 5 }) });
    const { code, stdout, stderr } = await run(folder, 'check', 'one.yaml', 'two.yaml', 'run.csv');
    expect(stderr).toBe('');
    expect(stdout).toContain('one.yaml: a plan without errors\ntwo.yaml: a thresholds file without errors\nrun.csv: a trace without errors\n');
    expect(stdout).toContain("pressure from 'pressure_bar' in bar");
    expect(code).toBe(0);
  });

  it('explains every error of every file at once, with its line', async () => {
    const wrong = 'plan: p\ntestPressure: 550\nholdTime: 60 apples\nriseRate:\n  maximun: 3 bar/s\ncycles: 0\n';
    const folder = folderWith({ 'plan.yaml': wrong, 't.yaml': 'thresholds: t\nspikeHeight: 1 apple\nspikeWide: 3 s\n', 'good.yaml': plan });
    const { code, stdout, stderr } = await run(folder, 'check', 'plan.yaml', 't.yaml', 'good.yaml');
    expect(stderr.trim().split('\n').sort()).toEqual([
      "plan.yaml: line 2, testPressure: '550' has no unit; write for example '550 bar'",
      "plan.yaml: line 3, holdTime: '60 apples' should be a time in ms, s, min or h, for example '60 s'",
      "plan.yaml: line 5, riseRate.maximun: unknown key; did you mean 'maximum'?",
      'plan.yaml: line 6, cycles: should be 1 or more',
      "t.yaml: line 2, spikeHeight: '1 apple' should be a pressure in bar, mbar, Pa, kPa, MPa, psi, for example '1 %'",
      "t.yaml: line 3, spikeWide: unknown key; did you mean 'spikeWidth'?",
    ]);
    expect(stdout).toBe('good.yaml: a plan without errors\n');
    expect(code).toBe(2);
  });

  it('knows a bench file and explains what is wrong in it', async () => {
    const folder = folderWith({ 'b.yaml': bench, 'wrong.yaml': bench.replace('1000 bar', '1000').replace('port: 4001', 'port: 99999') });
    const { code, stdout, stderr } = await run(folder, 'check', 'b.yaml', 'wrong.yaml');
    expect(stdout).toBe('b.yaml: a bench without errors\n');
    expect(stderr).toContain("wrong.yaml: line 9, channels.0.range.upper: '1000' has no unit");
    expect(stderr).toMatch(/^wrong\.yaml: line 7, channels\.0\.input\.port: /m);
    expect(code).toBe(2);
  });

  it('looks through the plans of a bench and the plan and thresholds that it names, each mistake with its file and line', async () => {
    const wrong = plan.replace(/testPressure: .*/, 'testPressure: 550').replace(/holdTime: .*/, 'holdTime: 60 apples');
    const folder = folderWith({
      'b.yaml': `${bench}plan: plans/one.yaml\nthresholds: t.yaml\n`, 't.yaml': 'thresholds: t\nspikeHeight: 1 apple\n',
      'fine.yaml': `${bench}plans: sound\n`, 'gone.yaml': `${bench}plan: plans/gone.yaml\nplans: sound\n`,
    });
    for (const [name, text] of Object.entries({ 'plans/one.yaml': plan, 'plans/torn.yaml': wrong, 'plans/Torn.yml': plan, 'sound/one.yaml': plan })) {
      mkdirSync(join(folder, dirname(name)), { recursive: true });
      writeFileSync(join(folder, name), text);
    }
    const { code, stdout, stderr } = await run(folder, 'check', 'b.yaml', 'fine.yaml', 'gone.yaml');
    expect(stderr.trim().split('\n').sort()).toEqual([
      "b.yaml: plans/torn.yaml: has the same name as another plan; rename one of them",
      expect.stringMatching(/^b\.yaml: plans\/torn\.yaml: line 2, testPressure: '550' has no unit/),
      expect.stringMatching(/^b\.yaml: plans\/torn\.yaml: line 3, holdTime: '60 apples' should be a time/),
      expect.stringMatching(/^b\.yaml: t\.yaml: line 2, spikeHeight: '1 apple' should be a pressure/),
      expect.stringMatching(/^gone\.yaml: plans\/gone\.yaml: /),
    ]);
    expect(stdout).toBe('fine.yaml: a bench without errors\n  1 plan in sound, without errors\n');
    expect(code).toBe(2);
  });

  it('finds the examples of the drivers right', async () => {
    const examples = fileURLToPath(new URL('../../drivers/examples', import.meta.url));
    const files = readdirSync(examples).filter((name) => name.endsWith('.yaml'));
    const { code, stdout, stderr } = await run(examples, 'check', ...files);
    // The calibration of an example runs out one day.
    expect(stderr.split('\n').filter((line) => line !== '' && !line.includes('ran out on'))).toEqual([]);
    expect(stdout.trim().split('\n')).toHaveLength(files.length);
    expect(code).toBe(0);
  });

  it('warns of what is possible and looks like a mistake, with its line', async () => {
    const suspicious = `bench: manifold 1
instruments:
  - instrument: spare
    input: { driver: tcp-line, host: 127.0.0.1, port: 4002 }
channels:
  - channel: pressure
    input:
      driver: modbus-rtu
      path: /dev/ttyS0
      baudRate: 1200
      addressBase: 0
      every: 200 ms
      values:
        - { address: 40017, type: float32 }
        - { value: status, address: 60, type: uint16 }
        - { value: more, address: 90, type: uint16 }
    value: pressure
    unit: bar
    range: { upper: 15000 psi }
    calibration: { certificate: K-1, serial: T-1, date: 2020-02-01, due: 2021-02-01, uncertainty: 1 bar }
`;
    const { code, stdout, stderr } = await run(folderWith({ 'bench.yaml': suspicious }), 'check', 'bench.yaml');
    expect(stderr.trim().split('\n')).toEqual([
      'warning: bench.yaml: line 19, channels.0.range: is in psi while the readings are in bar: one of the two may be wrong',
      'warning: bench.yaml: line 8, channels.0.input: a reading each 200 ms cannot show a spike of 250 ms: spikes will not be assessable; ask at least each 125 ms',
      "warning: bench.yaml: line 8, channels.0.input: address 40017 looks like a manual's name for holding 17; write address: 17 and addressBase: 1",
      'warning: bench.yaml: line 8, channels.0.input: one round of questions takes 623 ms at 1200 baud, longer than every: 200 ms; polls will be left out',
      'warning: bench.yaml: line 20, channels.0.calibration: ran out on 2021-02-01: runs will be inconclusive unless the plan allows it',
      "warning: bench.yaml: line 3, instruments.0: no channel and no contact reads the instrument 'spare'",
    ]);
    expect(stdout).toBe('bench.yaml: a bench without errors\n');
    expect(code).toBe(0);
  });

  it('gives the same as JSON', async () => {
    const folder = folderWith({ 'plan.yaml': plan.replace('60 s', '60'), 'good.yaml': plan });
    const { code, stdout } = await run(folder, 'check', '--json', 'plan.yaml', 'good.yaml');
    expect(JSON.parse(stdout)).toEqual([
      { file: 'plan.yaml', kind: 'plan', ok: false, problems: [{ place: 'line 3, holdTime', text: "'60' has no unit; write for example '60 s'" }], details: [] },
      { file: 'good.yaml', kind: 'plan', ok: true, problems: [], details: [] },
    ]);
    expect(code).toBe(2);
  });

  it('names the keys of a file that is none of these', async () => {
    const { code, stderr } = await run(folderWith({ 'other.yaml': 'colour: blue\nsize: 3\n' }), 'check', 'other.yaml');
    expect(stderr).toBe('other.yaml: is not a bench, plan or thresholds file: none of them has the keys colour, size\n');
    expect(code).toBe(2);
  });

  it('finds places and names that a bench could not start with', async () => {
    const replayed = bench.replace(/driver: tcp-line[^]*port: 4001/, 'driver: replay\n      path: none.csv');
    const folder = folderWith({ 'bench.yaml': `${replayed.replace('manifold 1', '"manifold\\n1"')}` });
    expect((await run(folder, 'check', 'bench.yaml')).stderr).toBe('bench.yaml: line 1, bench: should be a name on one line\n');
    writeFileSync(join(folder, 'bench.yaml'), `${replayed}store: ./\n`);
    const places = await run(folder, 'check', 'bench.yaml');
    expect(places.stderr.trim().split('\n')).toEqual([
      expect.stringMatching(/^bench\.yaml: line 9, store: .* is a folder; the store should be a file, for example records\.sqlite$/),
      expect.stringMatching(/^bench\.yaml: line 6, channels\.0\.input\.path: there is no file .*none\.csv$/),
    ]);
    expect(places.code).toBe(2);
    writeFileSync(join(folder, 'bench.yaml'), bench.replace('127.0.0.1', 'http://127.0.0.1/').replace('tcp-line', 'tcp-lien'));
    expect((await run(folder, 'check', 'bench.yaml')).stderr).toBe("bench.yaml: line 5, channels.0.input.driver: 'tcp-lien' is no driver; did you mean 'tcp-line'?\n");
    writeFileSync(join(folder, 'bench.yaml'), bench.replace('127.0.0.1', 'http://127.0.0.1/'));
    expect((await run(folder, 'check', 'bench.yaml')).stderr).toMatch(/channels\.0\.input\.host: 'http:\/\/127\.0\.0\.1\/' should be the name or the address of a host alone/);
  });

  it('warns of a range that ends below what the plan speaks of, and of plans of one name', async () => {
    const folder = folderWith({ 'plan.yaml': plan, 'bench.yaml': `${bench.replace('1000 bar', '540 bar')}plan: plan.yaml\n` });
    mkdirSync(join(folder, 'plans'));
    for (const name of ['a', 'b']) writeFileSync(join(folder, 'plans', `${name}.yaml`), plan);
    const { code, stderr } = await run(folder, 'check', 'bench.yaml');
    expect(stderr.trim().split('\n')).toEqual([
      "warning: bench.yaml: line 9, channels.0.range: ends at 540 bar, below the test pressure of 550 bar of the plan 'two-wire DN12 proof': no run can pass",
      "warning: bench.yaml: plans/b.yaml: is called 'two-wire DN12 proof' as a.yaml is; give each plan a name of its own",
    ]);
    expect(code).toBe(0);
    const listed = await run(folder, 'plans', 'plans');
    expect(listed.stderr).toBe("warning: b.yaml: is called 'two-wire DN12 proof' as a.yaml is; give each plan a name of its own\n");
    expect(listed.code).toBe(0);
  });
});
