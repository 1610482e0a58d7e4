import { copyFileSync, existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { addToRun } from '../../src/records/add-to-run.js';
import { openStore } from '../../src/records/store.js';
import { pdfFacts, pdfText } from '../certificate/pdf-reading.js';
import { calibration, job } from '../certificate/tested-bench.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';
import { folderWith, run } from './run-cli.js';

let bench: HandBench;
beforeAll(() => {
  bench = new HandBench(judgingBy(), { calibration });
  bench.daemon.start();
  bench.goodRun();
  bench.daemon.stop();
  const { store } = openStore(join(bench.folder, 'records.sqlite'), { software: 'test', now: () => bench.at.wall });
  addToRun(store, 1, { kind: 'job', ...job }, { who: 'J. Doe' });
  addToRun(store, 1, { kind: 'visual-finding', finding: 'no leakage seen' }, { who: 'J. Doe' });
  store.close();
});
afterAll(() => bench.clear());

const benchFile = (shop = 'name: Meadow Lane Hydraulics\n  timeZone: Europe/Berlin') => `bench: north bench
shop:
  ${shop}
channels:
  - input: { driver: serial-line, path: /dev/ttyS9 }
    unit: bar
    range: { lower: 0 bar, upper: 1000 bar }
`;
const folder = (shop?: string) => {
  const made = folderWith({ 'bench.yaml': benchFile(shop) });
  copyFileSync(join(bench.folder, 'records.sqlite'), join(made, 'records.sqlite'));
  return made;
};

it('writes the certificate of a run, with the head of the bench file, and never over a file', async () => {
  const at = folder();
  expect(await run(at, 'certificate', '1', '--bench', 'bench.yaml')).toEqual({ code: 0, stdout: 'certificate-1-3.pdf written\n', stderr: '' });
  const text = pdfText(readFileSync(join(at, 'certificate-1-3.pdf')));
  expect(text).toContain('Meadow Lane Hydraulics');
  expect(text).toContain('(Europe/Berlin)');
  const again = await run(at, 'certificate', '1', '--bench', 'bench.yaml');
  expect(again).toMatchObject({ code: 2, stderr: 'certificate-1-3.pdf: is there already; choose another name with --to, or --force to write over it\n' });
  expect(await run(at, 'certificate', '1', '--bench', 'bench.yaml', '--force', '--json')).toMatchObject({ code: 0 });
});

it('writes a label, an order, and one assembly', async () => {
  const at = folder();
  expect((await run(at, 'certificate', '1', '--store', 'records.sqlite', '--as', 'label-text', '--width', '80', '--to', 'l.txt')).code).toBe(0);
  expect(readFileSync(join(at, 'l.txt'), 'utf8')).toContain('*** PASS ***');
  expect((await run(at, 'certificate', '--order', '4711', '--store', 'records.sqlite', '--paper', 'Letter')).stdout).toBe('order-4711.pdf written\n');
  expect(pdfFacts(readFileSync(join(at, 'order-4711.pdf')))['Title']).toBe('Order 4711: pressure tests');
  expect((await run(at, 'certificate', '1', '--store', 'records.sqlite', '--assembly', 'A17-002')).stdout).toBe('certificate-1-3-A17-002.pdf written\n');
});

it.each<[readonly string[], string]>([
  [[], 'certificate: give either the number of a run or --order, for example: certificate 17 --store records.sqlite\n'],
  [['1'], 'certificate: --store: is missing; name the store, or the bench file with --bench\n'],
  [['one', '--store', 'records.sqlite'], "certificate: run: 'one' should be a number\n"],
  [['7', '--store', 'records.sqlite'], 'run 7: there is no such run\n'],
  [['1', '--store', 'none.sqlite'], 'none.sqlite: there is no such file; name the store that the daemon writes\n'],
  [['1', '--store', 'records.sqlite', '--assembly', 'B9'], "run 1: assembly: 'B9' is not on it; it names A17-001, A17-002, A17-003\n"],
  [['1', '--store', 'records.sqlite', '--as', 'zip'], 'certificate: --as: zip is for an order; give --order\n'],
  [['--order', '0815', '--store', 'records.sqlite'], "order: '0815' is the order of no run that is over\n"],
])('refuses %j in one sentence and writes nothing', async (args, sentence) => {
  const at = folder();
  expect(await run(at, 'certificate', ...args)).toEqual({ code: 2, stdout: '', stderr: sentence });
  expect(existsSync(join(at, 'certificate-1-3.pdf'))).toBe(false);
});

it.each([
  ['name: x\n  logo: none.png', /bench\.yaml: shop\.logo: '.*none\.png' cannot be read; name a PNG or JPEG picture/],
  ['name: x\n  logo: bench.yaml', /bench\.yaml: shop\.logo: '.*bench\.yaml' is no PNG or JPEG picture/],
  ['name: x\n  timeZone: Mars', /timeZone: should be a time zone such as Europe\/Berlin/],
  ['name: x\n  papper: A4', /shop\.papper: unknown key; did you mean 'paper'\?/],
])('a shop with %j is refused', async (shop, sentence) => {
  const { code, stderr } = await run(folder(shop), 'certificate', '1', '--bench', 'bench.yaml');
  expect(stderr).toMatch(sentence);
  expect(code).toBe(2);
});
