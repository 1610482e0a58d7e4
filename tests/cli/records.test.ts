import { readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import Papa from 'papaparse';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { publicKeyFrom, signerOfFile, writeKeys } from '../../src/records/key-files.js';
import { openStore } from '../../src/records/store.js';
import { software } from '../../src/cli/program.js';
import { HandBench } from '../daemon/hand-bench.js';
import { folderWith, namesIn, run } from './run-cli.js';

let bench: HandBench;
let store = '';

beforeAll(() => {
  bench = new HandBench(undefined, {}, software);
  store = join(bench.folder, 'records.sqlite');
  const keys = writeKeys(join(bench.folder, 'bench.pem'));
  bench.signWith(signerOfFile(keys.privateFile));
  bench.daemon.start();
  bench.ramp(0, 0, 35);
  bench.goodRun();
  bench.goodRun(2);
  bench.goodRun();
  bench.daemon.stop();
  const { store: opened } = openStore(store, { software, signer: signerOfFile(keys.privateFile) });
  opened.addEntry(1, { kind: 'job', order: '=HYPERLINK("http://example.test")', customer: 'Müller, "Söhne"', assemblies: ['H-1', 'H-2'] }, 'J. Doe');
  opened.addEntry(2, { kind: 'job', order: 'A-7' }, 'J. Doe');
  opened.addEntry(3, { kind: 'job', order: 'a-7 ' }, 'J. Doe');
  opened.close();
});
afterAll(() => bench.clear());

const json = (text: string) => JSON.parse(text) as Record<string, unknown>[];

describe('verify', () => {
  it('finds a store as it was sealed, judges every run again, and exits 0', async () => {
    const { code, stdout, stderr } = await run(bench.folder, 'verify', 'records.sqlite', '--key', 'bench.public.pem');
    expect(stdout).toMatch(/^intact {2}records\.sqlite \(store\): 6 sealed records, 6 signed\n {2}3 runs judged again come out the same\n {2}last seal [0-9a-f]{64}\n$/);
    expect(stderr).toBe('');
    expect(code).toBe(0);
  });

  it('checks a folder: its stores and the records in it', async () => {
    const folder = folderWith({ 'other.json': '{"not":"ours"}', 'notes.txt': 'x' });
    await run(folder, 'export', store, '--all', '--to', 'out');
    writeFileSync(join(folder, 'out', 'copy.sqlite'), readFileSync(store));
    const { code, stdout } = await run(folder, 'verify', 'out', '--json');
    expect(json(stdout).map(({ file, kind, intact }) => [file, kind, intact])).toEqual([
      ['out/copy.sqlite', 'store', true], ['out/run-1.json', 'record', true], ['out/run-2.json', 'record', true], ['out/run-3.json', 'record', true],
    ]);
    expect(code).toBe(0);
  });

  it('of a folder: a seal that is known must be in one of its files, not in each', async () => {
    const folder = folderWith({});
    await run(folder, 'export', store, '--all', '--to', 'out');
    const [seal = ''] = /"seal": ?"([0-9a-f]{64})"/.exec(readFileSync(join(folder, 'out', 'run-2.json'), 'utf8'))?.slice(1) ?? [];
    const found = await run(folder, 'verify', 'out', '--seal', seal);
    expect(found.stdout).not.toContain('BROKEN');
    expect(found.stdout).toMatch(/run-2\.json .*\n {2}holds the seal that was asked for\n/);
    expect(found.code).toBe(0);
    const missing = await run(folder, 'verify', 'out', '--seal', 'f'.repeat(64));
    expect(missing.stderr).toBe(`BROKEN  out: none of its 3 files holds the seal ${'f'.repeat(64)}\n`);
    expect(missing.code).toBe(1);
    expect((await run(folder, 'verify', 'out/run-1.json', '--seal', 'f'.repeat(64))).stdout).toMatch(/^BROKEN/);
  });

  it('names the first broken entry and exits 1', async () => {
    const folder = folderWith({});
    await run(folder, 'export', store, '--run', '2', '--to', '.');
    const text = readFileSync(join(folder, 'run-2.json'), 'utf8');
    writeFileSync(join(folder, 'run-2.json'), text.replace('"verdict":"inconclusive"', '"verdict":"pass"'));
    const { code, stdout } = await run(folder, 'verify', 'run-2.json');
    expect(stdout).toMatch(/^BROKEN {2}run-2\.json \(record\): .*\n {2}first: record 2: the record or its seal was changed\n/);
    expect(code).toBe(1);
  });

  it.each([
    [['none.sqlite'], /none\.sqlite: there is no such file/],
    [['.'], /\.: holds no store \(\.sqlite, \.db\) and no exported record/],
    [['text.json'], /text\.json: is not JSON/],
    [['empty.sqlite'], /empty\.sqlite: /],
    [['text.json', '--seal', 'abc'], /--seal: 'abc' should be a seal of 64 hex digits/],
    [['text.json', '--key', 'text.json'], /text\.json: is not a public key/],
  ])('refuses %j with one sentence and exit code 2', async (args, sentence) => {
    const folder = folderWith(args[0] === '.' ? {} : { 'text.json': 'words', 'empty.sqlite': '' });
    const { code, stderr, stdout } = await run(folder, 'verify', ...args);
    expect(stderr).toMatch(sentence);
    expect(stderr.trim().split('\n')).toHaveLength(1);
    expect([code, stdout]).toEqual([2, '']);
  });
});

describe('export', () => {
  it('writes a record a run, by order, whole, and never over a file', async () => {
    const folder = folderWith({});
    const first = await run(folder, 'export', store, '--order', 'A-7', '--to', 'out', '--json');
    expect(JSON.parse(first.stdout)).toEqual({ files: ['out/run-2.json', 'out/run-3.json'] });
    expect(namesIn(join(folder, 'out'))).toEqual(['run-2.json', 'run-3.json']);
    writeFileSync(join(folder, 'out', 'run-3.json'), 'mine');
    const again = await run(folder, 'export', store, '--run', '1-3', '--to', 'out');
    expect(again).toMatchObject({ code: 2, stderr: expect.stringMatching(/^out\/run-2\.json: is there already; choose another folder, or --force/) as string });
    expect(namesIn(join(folder, 'out'))).toEqual(['run-2.json', 'run-3.json']);
    expect(readFileSync(join(folder, 'out', 'run-3.json'), 'utf8')).toBe('mine');
    expect((await run(folder, 'export', store, '--run', '1-3', '--to', 'out', '--force')).code).toBe(0);
    expect(namesIn(join(folder, 'out'))).toEqual(['run-1.json', 'run-2.json', 'run-3.json']);
    expect(statSync(join(folder, 'out', 'run-3.json')).size).toBeGreaterThan(1000);
  });

  it('gives a trace that judges to the verdict of its record', async () => {
    const { stdout } = await run(bench.folder, 'export', store, '--run', '1', '--format', 'csv');
    const plan = "plan: short proof\ntestPressure: 550 bar\nholdTime: 3 s\nminimumPressure: 530 bar\nceilingPressure: 600 bar\n";
    const folder = folderWith({ 'run-1.csv': stdout, 'plan.yaml': plan, 't.yaml': 'quietTime: 1 s\nsettleWindow: 2 s\nsettleTimeout: 10 s\nrunEnd: 2 s\n' });
    const judged = await run(folder, 'judge', 'run-1.csv', '--plan', 'plan.yaml', '--thresholds', 't.yaml', '--json');
    const record = JSON.parse((await run(bench.folder, 'export', store, '--run', '1')).stdout) as { ledger: { record: { outcome: { verdict: string; cycles: unknown } } }[] };
    const outcome = JSON.parse(judged.stdout) as { verdict: string; cycles: unknown };
    expect(outcome.verdict).toBe('pass');
    expect(outcome.cycles).toEqual(record.ledger[0]?.record.outcome.cycles);
  });

  it('guards a table against formulas and is read back by a foreign reader', async () => {
    const { stdout, code } = await run(bench.folder, 'export', store, '--all', '--format', 'table');
    const { data } = Papa.parse<Record<string, string>>(stdout, { header: true, skipEmptyLines: true });
    expect(data.map(({ run: number, verdict, order, customer, assemblies }) => [number, verdict, order, customer, assemblies])).toEqual([
      ['1', 'pass', `'=HYPERLINK("http://example.test")`, 'Müller, "Söhne"', 'H-1 H-2'], ['2', 'inconclusive', 'A-7', '', ''], ['3', 'pass', expect.stringMatching(/^a-7 ?$/), '', ''],
    ]);
    expect(code).toBe(0);
  });

  it('takes days of the calendar', async () => {
    const all = (...args: string[]) => run(bench.folder, 'export', store, '--format', 'table', ...args);
    expect((await all('--since', '2027-03-01', '--until', '2027-03-01')).stdout.split('\n')).toHaveLength(5);
    expect(await all('--since', '2027-03-03')).toMatchObject({ code: 2, stderr: expect.stringContaining('holds no run that is over and that is asked for') as string });
  });

  it.each([
    [[], /say which runs: --run, --order, --since, --until or --all/],
    [['--all'], /3 runs are asked for; say with --to in which folder/],
    [['--all', '--run', '1'], /--all stands alone/],
    [['--run', '9'], /--run: there is no run 9 in it/],
    [['--run', '3-1'], /--run: '3-1' should be the number of a run or a range/],
    [['--since', '2027-02-30'], /--since: '2027-02-30' should be a day/],
    [['--since', '2027-03-02', '--until', '2027-03-01'], /--until: '2027-03-01' lies before --since/],
  ])('refuses %j with one sentence and exit code 2', async (args, sentence) => {
    const { code, stderr, stdout } = await run(bench.folder, 'export', store, ...args);
    expect(stderr).toMatch(sentence);
    expect([code, stdout]).toEqual([2, '']);
  });
});

describe('keygen', () => {
  it('makes a pair that start, check and verify understand', async () => {
    const folder = folderWith({});
    const made = JSON.parse((await run(folder, 'keygen', 'bench.pem', '--json')).stdout) as { privateFile: string; publicFile: string; signer: string };
    expect(made).toMatchObject({ privateFile: 'bench.pem', publicFile: 'bench.public.pem' });
    expect(signerOfFile(join(folder, made.privateFile)).signer).toBe(made.signer);
    expect(publicKeyFrom(join(folder, made.publicFile))).toContain('PUBLIC KEY');
    expect(await run(folder, 'keygen', 'bench.pem')).toMatchObject({ code: 2, stderr: expect.stringMatching(/^bench\.pem: is there already/) as string });
    const file = "bench: Bay 2\nsigningKey: bench.pem\nchannels:\n  - input: { driver: serial-line, path: /dev/ttyS9 }\n    unit: bar\n    range: { upper: 600 bar }\n";
    writeFileSync(join(folder, 'bench.yaml'), file);
    expect((await run(folder, 'check', 'bench.yaml')).code).toBe(0);
    writeFileSync(join(folder, 'bench.yaml'), file.replace('bench.pem', 'gone.pem'));
    expect(await run(folder, 'check', 'bench.yaml')).toMatchObject({ code: 2, stderr: expect.stringMatching(/signingKey: .*gone\.pem: there is no such file; 'dwellkeeper keygen' makes a key/) as string });
  });
});
