import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { readBench } from '../../src/daemon/bench-setup.js';
import { LastGood } from '../../src/files/last-good.js';

let folder: string;
let lastGood: LastGood;
const at = (name: string): string => join(folder, name);
const planText = 'plan: short proof\ntestPressure: 550 bar\nholdTime: 3 s\n';
const thresholdsText = 'thresholds: quick\nquietTime: 2 s\n';

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-good-'));
  lastGood = new LastGood(at('.last-good'));
  writeFileSync(at('plan.yaml'), planText);
  writeFileSync(at('t.yaml'), thresholdsText);
  writeFileSync(at('bench.yaml'), 'bench: north\nstore: data/r.sqlite\nplan: plan.yaml\nthresholds: t.yaml\nchannels:\n  - input: { driver: tcp-line, host: 127.0.0.1, port: 4001 }\n    unit: bar\n    range: { upper: 600 bar }\n');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const keepAll = (): void => {
  for (const file of readBench(at('bench.yaml'), lastGood).files) lastGood.keep(file);
};
const destroy = { 'no bytes': (path: string) => writeFileSync(path, ''), 'nothing but NUL': (path: string) => writeFileSync(path, new Uint8Array(1879)), missing: (path: string) => rmSync(path) };

// FC-30
describe('settings after a power cut', () => {
  for (const [what, ruin] of Object.entries(destroy)) {
    it.each(['plan.yaml', 't.yaml', 'bench.yaml'])(`%s with ${what}: the good copy holds, with a notice`, (name) => {
      const before = readBench(at('bench.yaml'), lastGood);
      expect(before.notices).toEqual([]);
      keepAll();
      ruin(at(name));
      const after = readBench(at('bench.yaml'), lastGood);
      expect({ ...after, notices: [] }).toEqual({ ...before, notices: [] });
      expect(after.notices).toEqual([expect.stringMatching(new RegExp(`${name.replace('.', '\\.')} is missing or empty; its last good copy of \\d{4}-\\d\\d-\\d\\d \\d\\d:\\d\\d UTC is used`))]);
    });
  }

  it.each(['plan.yaml', 't.yaml'])('%s missing with no copy: nothing is judged until it is put right', (name) => {
    destroy.missing(at(name));
    const { plan, notices } = readBench(at('bench.yaml'), lastGood);
    expect(plan).toBeNull();
    expect(notices).toEqual([expect.stringMatching(/missing or empty, and no good copy is known; runs are recorded and not judged/)]);
  });

  it('a bench file that is gone without a copy, and any lost file with somebody there to see it, is an error', () => {
    destroy['no bytes'](at('bench.yaml'));
    expect(() => readBench(at('bench.yaml'), lastGood)).toThrow(/bench\.yaml: the file is empty/);
  });

  it('with somebody there to see it no copy is taken', () => {
    keepAll();
    destroy['nothing but NUL'](at('plan.yaml'));
    expect(() => readBench(at('bench.yaml'))).toThrow(/plan\.yaml: the file is empty/);
  });

  it('a mistake of a person is told, never papered over', () => {
    keepAll();
    writeFileSync(at('plan.yaml'), 'plan: short proof\ntestPressure: 550\n');
    expect(() => readBench(at('bench.yaml'), lastGood)).toThrow(/testPressure: '550' has no unit/);
  });
});

describe('copies', () => {
  it('are whole, and made anew only where something changed', () => {
    keepAll();
    const names = readdirSync(at('.last-good')).sort();
    expect(names).toHaveLength(3);
    expect(names.every((name) => !name.endsWith('.part'))).toBe(true);
    const copy = join(at('.last-good'), names.find((name) => name.endsWith('plan.yaml')) ?? '');
    expect(readFileSync(copy, 'utf8')).toBe(planText);
    writeFileSync(at('plan.yaml'), planText.replace('3 s', '5 s'));
    keepAll();
    expect(readFileSync(copy, 'utf8')).toContain('5 s');
    expect(existsSync(`${copy}.part`)).toBe(false);
  });

  it('of files with the same name in two folders are two', () => {
    const other = mkdtempSync(join(folder, 'other-'));
    writeFileSync(join(other, 'plan.yaml'), 'plan: other\n');
    lastGood.keep(at('plan.yaml'));
    lastGood.keep(join(other, 'plan.yaml'));
    expect(readdirSync(at('.last-good'))).toHaveLength(2);
  });
});
