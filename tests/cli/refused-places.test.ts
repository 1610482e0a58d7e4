import { existsSync, mkdirSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:net';
import { join } from 'node:path';
import { expect, it, onTestFinished } from 'vitest';
import { storeWithRuns } from '../records/example-store.js';
import { folderWith, namesIn, run } from './run-cli.js';

const bench = (store: string) => `bench: B
store: ${store}
channels:
  - input: { driver: tcp-line, host: 127.0.0.1, port: 4999 }
    unit: bar
    range: { lower: 0 bar, upper: 1000 bar }
`;
const folder = 'is a folder; the store should be a file, for example records.sqlite';
const noStore = 'is not a Dwellkeeper store; name another file for the store, this one was left as it is';

it.each<[string, readonly string[], RegExp | string]>([
  ['a bench whose store is a folder', ['start', 'folder.yaml', '--wait'], folder],
  ['a bench whose store is a text', ['start', 'text.yaml', '--wait'], noStore],
  ['a demo in a folder', ['demo', '--store', '.'], `.: ${folder}`],
  ['a demo in a text', ['demo', '--store', 'notes.txt'], `notes.txt: ${noStore}`],
  ['a certificate out of a folder', ['certificate', '1', '--store', '.'], `.: ${folder}`],
  ['an export of a folder', ['export', '.', '--all', '--format', 'table'], `.: ${folder}`],
  ['a label in a text', ['label', 'notes.txt', '1', 'truly sound', '--who', 'J. Doe'], `notes.txt: ${noStore}`],
  ['runs written into a file', ['simulate', '--as', 'folder', '--at', 'notes.txt', '--scenario', 'pass-plain'], 'notes.txt: is a file; give a folder'],
  ['runs written where there can be no folder', ['simulate', '--as', 'folder', '--at', '/proc/zz', '--scenario', 'pass-plain'], '/proc/zz: cannot be made (ENOENT); give a folder in which this user may write'],
  ['records written where there can be no folder', ['export', 'records.sqlite', '--all', '--to', '/proc/zz'], '/proc/zz: cannot be made (ENOENT); give a folder in which this user may write'],
])('%s is told in a sentence, and nothing is written', async (_what, args, sentence) => {
  const place = folderWith({ 'folder.yaml': bench('./'), 'text.yaml': bench('notes.txt'), 'notes.txt': 'time_s,pressure_bar\n0,1\n' });
  storeWithRuns(join(place, 'records.sqlite'), 1).store.close();
  const before = namesIn(place);
  const { code, stdout, stderr } = await run(place, ...args);
  expect(stderr.trimEnd().split('\n').at(-1)).toContain(String(sentence));
  expect(stdout).toBe('');
  expect(code).toBe(2);
  // Files of SQLite beside a store that was only read come and go.
  expect(namesIn(place).filter((name) => !/-(wal|shm)$/.test(name))).toEqual(before);
});

it('a demo whose port is taken leaves nothing behind', async () => {
  const taken = createServer();
  onTestFinished(() => void taken.close());
  const port = await new Promise<number>((resolve) => taken.listen(0, '127.0.0.1', () => resolve((taken.address() as { port: number }).port)));
  const place = folderWith({});
  mkdirSync(join(place, 'kept'));
  writeFileSync(join(place, 'kept', 'notes.txt'), 'x');
  for (const name of ['fresh', 'kept']) {
    const { code, stderr } = await run(place, 'demo', '--port', String(port), '--store', `${name}/demo.sqlite`);
    expect(stderr).toBe(`demo: page.port: 127.0.0.1:${port} cannot be listened on (another program has it); choose another port\n`);
    expect(code).toBe(2);
  }
  expect(existsSync(join(place, 'fresh'))).toBe(false);
  expect(namesIn(join(place, 'kept'))).toEqual(['notes.txt']);
});
