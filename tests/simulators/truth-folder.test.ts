import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, it } from 'vitest';
import { writeRuns } from '../../simulators/run-files.js';
import { recorded } from '../../simulators/truth-table/recorded.js';
import { emptyFolder } from '../records/example-store.js';

it('a folder with a label beside a whole truth: the one is compared, the other left out and told', async () => {
  const folder = emptyFolder();
  await writeRuns(folder, ['pass-plain'], 1);
  writeFileSync(join(folder, 'other.truth.json'), '{"label":"truly leaking"}');
  const { all, leftOut } = recorded(folder);
  expect(all.map(({ name, right }) => [name, right])).toEqual([['pass-plain-1', true]]);
  expect(leftOut).toEqual([`${folder}/other.truth.json: left out: it says only a label; the table needs the whole truth, as dwellkeeper simulate writes it`]);
});

it('a folder that is not there, or that knows no whole truth, is told in a sentence', () => {
  const folder = emptyFolder();
  expect(() => recorded(join(folder, 'none'))).toThrow(`${folder}/none: there is no such folder`);
  expect(() => recorded(folder)).toThrow(`${folder}: holds no NAME.truth.json`);
  writeFileSync(join(folder, 'a.truth.json'), '{"label":"truly leaking"}');
  expect(() => recorded(folder)).toThrow(`${folder}: holds no NAME.truth.json with the whole truth`);
  writeFileSync(join(folder, 'a.truth.json'), 'leaking');
  expect(() => recorded(folder)).toThrow('a.truth.json: is not JSON');
});
