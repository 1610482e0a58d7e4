import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { InputError } from '../../src/core/problems.js';
import { SaveConflict } from '../../src/library/save-conflict.js';
import { planKind, thresholdsKind } from '../../src/library/setting-kind.js';
import { VersionedFile } from '../../src/library/versioned-file.js';
import { readVersionText, versionFileOf } from '../../src/library/version-text.js';

let folder: string;
let path: string;
const first = 'plan: two-wire proof\ntestPressure: 550 bar # twice 275 bar\nholdTime: 60 s\n';
const second = first.replace('60 s', '45 s');
const third = first.replace('60 s', '30 s');
const at = Date.UTC(2027, 2, 1, 9);
const open = () => new VersionedFile(path, planKind, () => at);
const by = (base: number, text: string, who = 'J. Doe', why = 'shorter hold') => ({ base, text, who, why });
const failure = (work: () => unknown): InputError => {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return error;
    throw error;
  }
  throw new Error('it was allowed');
};
const onDisk = () => readFileSync(path, 'utf8');

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'versions-'));
  path = join(folder, 'two-wire.yaml');
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('a file with versions', () => {
  it('takes in a file that lay there already, and keeps each state with who, when and why', () => {
    writeFileSync(path, first);
    const file = open();
    expect(file.look().newest).toMatchObject({ version: 1, who: 'file on disk', why: 'found in the folder', text: first });
    file.save(by(1, second));
    expect(onDisk()).toBe(second);
    expect(open().versions().map(({ version, who, why, wall }) => ({ version, who, why, wall })).at(-1)).toEqual({ version: 2, who: 'J. Doe', why: 'shorter hold', wall: at });
    expect(open().versions().map(({ text }) => text)).toEqual([first, second]);
    expect(readdirSync(folder).sort()).toEqual(['two-wire.yaml', 'versions']);
  });

  it('goes back by a new version equal to the old one', () => {
    const file = open();
    file.save(by(0, first));
    file.save(by(1, second));
    const back = file.goBack(1, { base: 2, who: 'M. Roe', why: 'the customer asks for a minute' });
    expect(back).toMatchObject({ version: 3, text: first });
    expect(back.sha256).toBe(file.version(1).sha256);
    expect(onDisk()).toBe(first);
  });

  it.each<[string, Partial<ReturnType<typeof by>>, string]>([
    ['no reason', { why: ' ' }, 'why: is empty; a new version needs its reason'],
    ['nobody named', { who: '' }, 'who: is empty'],
    ['nothing new', { text: first }, 'nothing was changed'],
    ['a wrong value', { text: first.replace('60 s', '60') }, "holdTime: '60' has no unit"],
  ])('with %s nothing is written', (_what, wrong, sentence) => {
    const file = open();
    file.save(by(0, first));
    expect(failure(() => file.save({ ...by(1, second), ...wrong })).message).toContain(sentence);
    expect(file.versions()).toHaveLength(1);
    expect(onDisk()).toBe(first);
  });

  it('of two who changed the same version the second is told who was first and sees both differences; nothing is lost', () => {
    const file = open();
    file.save(by(0, first));
    open().save(by(1, second, 'M. Roe', 'the customer asks for it'));
    const refused = failure(() => file.save(by(1, first.replace('550', '560'))));
    expect(refused).toBeInstanceOf(SaveConflict);
    expect(refused.message).toBe('two-wire: was changed meanwhile by M. Roe (version 2: the customer asks for it); nothing of yours was saved: look at the difference, then save again on top of it');
    expect((refused as SaveConflict).theirs).toEqual([{ key: 'holdTime', from: '60 s', to: '45 s' }]);
    expect((refused as SaveConflict).yours).toEqual([{ key: 'testPressure', from: '550 bar', to: '560 bar' }, { key: 'holdTime', from: '45 s', to: '60 s' }]);
    expect(onDisk()).toBe(second);
    expect(file.save(by(2, second.replace('550', '560'))).version).toBe(3);
  });

  it('a version file that somebody else made in the same instant wins: the number is taken once', () => {
    const file = open();
    file.save(by(0, first));
    const other = open();
    other.look();
    // The other program has decided and not yet put its file in place: its version is there, the file is still old.
    const kept = readFileSync(join(folder, 'versions', 'two-wire@1.yaml'), 'utf8');
    file.save(by(1, second));
    writeFileSync(path, first);
    expect(readFileSync(join(folder, 'versions', 'two-wire@1.yaml'), 'utf8')).toBe(kept);
    expect(failure(() => other.save(by(1, third)))).toBeInstanceOf(SaveConflict);
    expect(file.versions().map(({ text }) => text)).toContain(second);
  });

  it('a hand edit becomes a version of its own, also between opening and saving', () => {
    const file = open();
    file.save(by(0, first));
    writeFileSync(path, second);
    expect(failure(() => file.save(by(1, third)))).toBeInstanceOf(SaveConflict);
    expect(file.versions().at(-1)).toMatchObject({ version: 2, who: 'file on disk', why: 'changed in the folder', text: second });
  });

  it('a hand edit that is not right is told, the version before it holds, and no save writes over it', () => {
    const file = open();
    file.save(by(0, first));
    writeFileSync(path, first.replace('550 bar', '550'));
    const { newest, value, problem } = file.look();
    expect(newest?.version).toBe(1);
    expect(value?.testPressure).toBe(550);
    expect(problem?.message).toContain("line 2, testPressure: '550' has no unit");
    expect(failure(() => file.save(by(1, second))).message).toContain('is being edited and not right at this moment');
    expect(onDisk()).toBe(first.replace('550 bar', '550'));
  });

  it('a file that a power cut left empty is put right by the next save', () => {
    const file = open();
    file.save(by(0, first));
    writeFileSync(path, '');
    expect(file.look().newest?.text).toBe(first);
    file.save(by(1, second));
    expect(onDisk()).toBe(second);
  });

  it('a retired file is gone from its place, its versions stay, and it comes back by one action', () => {
    const file = open();
    file.save(by(0, first));
    file.retire({ base: 1, who: 'J. Doe', why: 'hose no longer made' });
    expect(existsSync(path)).toBe(false);
    expect(open().look().newest).toMatchObject({ version: 2, retired: true, text: first });
    file.goBack(1, { base: 2, who: 'J. Doe', why: 'one more order' });
    expect(onDisk()).toBe(first);
    expect(open().look().newest).toMatchObject({ version: 3, retired: false });
  });

  it('tells a version that was changed or taken away after it was saved', () => {
    const file = open();
    file.save(by(0, first));
    file.save(by(1, second));
    file.save(by(2, third));
    expect(file.versionProblems()).toBeNull();
    const one = join(folder, 'versions', 'two-wire@1.yaml');
    writeFileSync(one, readFileSync(one, 'utf8').replace('550 bar', '500 bar'));
    expect(open().versionProblems()?.problems).toEqual([{ place: 'version 1', text: 'was changed after it was saved' }]);
    rmSync(one);
    expect(open().versionProblems()?.problems).toEqual([{ place: 'version 1', text: 'is missing' }]);
    expect(open().versions().map(({ version }) => version)).toEqual([2, 3]);
  });
});

describe('a crash', () => {
  const part = () => join(folder, '.two-wire@2.0123456789ab.part');
  const decided = () => {
    const file = open();
    file.save(by(0, first));
    file.save(by(1, second));
    writeFileSync(path, first);
  };

  it('between the version and the new file: the next look puts the file in place, under the name of who saved it', () => {
    decided();
    writeFileSync(part(), second);
    const file = open();
    expect(file.look().newest).toMatchObject({ version: 2, who: 'J. Doe', text: second });
    expect(onDisk()).toBe(second);
    expect(existsSync(part())).toBe(false);
    expect(file.versions()).toHaveLength(2);
  });

  it('before the version: the old state stands, and what was half begun does not stay for ever', () => {
    open().save(by(0, first));
    writeFileSync(part(), second);
    const file = open();
    expect(file.look().newest).toMatchObject({ version: 1, text: first });
    expect(onDisk()).toBe(first);
    file.save(by(1, third));
    file.look();
    expect(existsSync(part())).toBe(false);
    expect(onDisk()).toBe(third);
  });

  it('between retiring and taking the file away: it is taken away', () => {
    const file = open();
    file.save(by(0, first));
    file.retire({ base: 1, who: 'J. Doe', why: 'no longer made' });
    writeFileSync(path, first);
    writeFileSync(join(folder, '.two-wire@2.0123456789ab.gone'), first);
    expect(open().look().newest).toMatchObject({ version: 2, retired: true });
    expect(existsSync(path)).toBe(false);
  });

  it('where the folder may not be written, a sentence says so and nothing has changed', () => {
    mkdirSync(join(folder, 'versions'));
    writeFileSync(path, first);
    const file = open();
    file.look();
    rmSync(join(folder, 'versions'), { recursive: true });
    writeFileSync(join(folder, 'versions'), 'not a folder');
    expect(failure(() => file.save(by(1, second))).message).toContain('versions: is a file; it should be a folder');
    expect(onDisk()).toBe(first);
  });
});

describe('the file of a version', () => {
  it('gives any text back as it was', () => fc.assert(fc.property(fc.string({ unit: 'grapheme' }), fc.string({ minLength: 1, unit: 'grapheme' }), (text, who) => {
    const version = { version: 7, saved: new Date(at).toISOString(), who, why: '# no: "comment"', content: 'a'.repeat(64), previous: null, retired: false, text: `x${text}\n\n` };
    expect(readVersionText(versionFileOf(version, 'a.yaml'), 'a@7.yaml')).toEqual(version);
  })));

  it('thresholds are kept alike', () => {
    const file = new VersionedFile(join(folder, 'thresholds.yaml'), thresholdsKind, () => at);
    file.save({ base: 0, text: 'spikeHeight: 1.2 %\n', who: 'J. Doe', why: 'false spikes on thin hose' });
    expect(file.look().value?.spikeHeight).toEqual({ kind: 'fraction', value: 0.012 });
  });
});
