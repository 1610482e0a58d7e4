import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { keyFor } from '../../src/library/plan-key.js';
import { PlanLibrary } from '../../src/library/plan-library.js';
import { findHose } from '../../src/plans/find-hose.js';
import { planForHose } from '../../src/plans/plan-for-hose.js';

let shop: string;
let folder: string;
let library: PlanLibrary;
const plan = (name: string, pressure = '550 bar', remark = '') => `# ${remark}\nplan: ${name}\ntestPressure: ${pressure}\nholdTime: 60 s\n`;
const put = (file: string, text: string) => writeFileSync(join(folder, file), text);
const hose = (text: string) => planForHose({ hose: findHose(text), fittings: [], kind: 'proof' });
const found = (query: string) => library.find(query).map(({ key }) => key);
const refusal = (work: () => unknown): string => {
  try {
    work();
  } catch (error) {
    return error instanceof Error ? error.message : String(error);
  }
  return 'allowed';
};

beforeEach(() => {
  shop = mkdtempSync(join(tmpdir(), 'library-'));
  folder = join(shop, 'plans');
  mkdirSync(folder);
  library = new PlanLibrary(folder);
});
afterEach(() => rmSync(shop, { recursive: true, force: true }));

describe('a folder of plans', () => {
  it('a file that is not right is named in one sentence and hides no other', () => {
    put('good.yaml', plan('good'));
    put('no-unit.yaml', plan('no unit', '550'));
    put('torn.yaml', 'plan: [torn');
    put('empty.yaml', '');
    put('notes.txt', 'not a plan');
    symlinkSync('/etc/passwd', join(folder, 'passwd.yaml'));
    library.refresh();
    expect(found('')).toEqual(['good']);
    expect(library.problems.map(({ file, text }) => `${file}: ${text.slice(0, 60)}`)).toEqual([
      'passwd.yaml: is not a file of its own; links and folders are not read as ',
      'empty.yaml: the file is empty',
      "no-unit.yaml: line 3, testPressure: '550' has no unit; write for example '",
      expect.stringContaining('torn.yaml: line 1: is not valid YAML'),
    ]);
    expect(JSON.stringify(library.plans())).not.toContain('root:');
  });

  it('a missing folder is an empty library, and is made with the first plan', () => {
    rmSync(folder, { recursive: true });
    library.refresh();
    expect(found('')).toEqual([]);
    expect(library.problems).toEqual([]);
    library.create(plan('first one'), 'J. Doe', 'new hose');
    expect(readdirSync(folder).sort()).toEqual(['first-one.yaml', 'versions']);
  });

  it('holds the plan of the bench file, too, wherever that lies', () => {
    const own = join(shop, 'plan.yaml');
    writeFileSync(own, plan('of the bench'));
    put('good.yaml', plan('good'));
    library = new PlanLibrary(folder, [own]);
    library.refresh();
    expect(found('').sort()).toEqual(['good', 'plan']);
  });

  it('no name leads out of the folder', () => {
    for (const name of ['../../escaped', '/etc/cron.d/job', '..', '....//x', 'C:\\plans\\x', 'a\0b', '%2e%2e%2fescaped']) {
      if (/[\p{L}\p{N}]/u.test(name)) library.create(JSON.stringify({ plan: name, testPressure: '550 bar', holdTime: '60 s' }), 'J. Doe', 'a try');
      else expect(() => keyFor(name)).toThrow('neither a letter nor a digit');
    }
    expect(readdirSync(shop)).toEqual(['plans']);
    expect(readdirSync(folder).filter((name) => name !== 'versions').every((name) => /^[a-z0-9-.]+\.yaml$/.test(name))).toBe(true);
    expect(existsSync('/etc/cron.d/job.yaml')).toBe(false);
    for (const key of ['../plans/escaped', '..', 'versions', 'versions/escaped@1']) expect(() => library.get(key)).toThrow('there is no such plan');
  });

  it('two plans never share a name, whatever its case, retired or not', () => {
    library.create(plan('Two-wire DN12'), 'J. Doe', 'new');
    expect(refusal(() => library.create(plan('two-WIRE dn12'), 'J. Doe', 'new'))).toContain("there is a plan 'two-wire-dn12' already; choose another name");
    const { file } = library.get('two-wire-dn12');
    file.retire({ base: 1, who: 'J. Doe', why: 'no longer made' });
    library.reread(file);
    expect(library.get('two-wire-dn12').newest.retired).toBe(true);
    expect(refusal(() => library.create(plan('Two-wire DN12'), 'J. Doe', 'new'))).toContain('already, retired; choose another name, or bring that one back');
  });

  it('copies a plan under another name, the reasons of changed limits left behind', () => {
    library.create(hose('ISO 1436 2SN DN12'), 'J. Doe', 'new hose');
    const [key = ''] = found('2SN');
    expect(refusal(() => library.copy(key, { testPressure: '500 bar' }, 'J. Doe', 'a customer'))).toContain('give the copy a name of its own');
    const copied = library.copy(key, { plan: 'softer', holdTime: '30 s' }, 'J. Doe', 'a customer');
    const text = readFileSync(join(folder, 'softer.yaml'), 'utf8');
    expect(copied).toMatchObject({ key: 'softer', plan: { plan: 'softer', testPressure: 550, holdTime: 30 } });
    expect(text).toContain('# twice the working pressure of the weakest part');
    expect(text.split('\n').filter((line) => line.startsWith('holdTime'))).toEqual(['holdTime: 30 s']);
  });

  it('sees what was edited by hand, once removed only at the second look', () => {
    put('good.yaml', plan('good'));
    library.refresh();
    put('good.yaml', plan('good', '560 bar'));
    library.refresh();
    expect(library.get('good').newest).toMatchObject({ version: 2, who: 'file on disk' });
    rmSync(join(folder, 'good.yaml'));
    library.poll('good');
    library.poll('good');
    expect(library.problems).toEqual([{ file: 'good.yaml', text: 'the file was removed' }]);
    put('good.yaml', plan('good', '560 bar'));
    library.poll(null);
    library.poll(null);
    expect(library.problems).toEqual([]);
    rmSync(join(folder, 'good.yaml'));
    library.poll(null);
    expect(library.get('good').newest.retired).toBe(false);
    library.poll(null);
    expect(library.get('good').newest).toMatchObject({ version: 3, retired: true, why: 'the file was removed from the folder' });
    put('good.yaml', plan('good', '560 bar'));
    library.refresh();
    expect(library.get('good').newest).toMatchObject({ version: 4, retired: false });
  });

  it('never takes a half-written file for a whole one', () => {
    put('good.yaml', plan('good'));
    library.refresh();
    put('good.yaml', plan('good').replace('holdTime: 60 s', 'holdTime: 6 s'));
    library.poll(null);
    put('good.yaml', plan('good').replace('holdTime: 60 s', 'holdTime: 600 s'));
    library.poll(null);
    library.poll(null);
    expect(library.get('good').file.versions().map(({ text }) => /holdTime: (.*)/.exec(text)?.[1])).toEqual(['60 s', '600 s']);
  });

  it('of a large folder everything holds at once, and becomes versions bit by bit', () => {
    for (let i = 0; i < 120; i++) put(`p${i}.yaml`, plan(`plan ${i}`));
    library.refresh(0);
    expect(found('')).toHaveLength(120);
    expect(readdirSync(folder)).not.toContain('versions');
    expect(library.settled('p7').newest).toMatchObject({ version: 1, who: 'file on disk' });
    for (let i = 0; i < 120; i++) library.poll(null);
    expect(library.plans().every(({ newest }) => newest.version === 1)).toBe(true);
    put('p119.yaml', plan('plan 119', '600 bar'));
    for (let i = 0; i < 6; i++) library.poll(null);
    expect(library.get('p119')).toMatchObject({ newest: { version: 2 }, plan: { testPressure: 600 } });
  });

  it('finds the version that a record names by its digest', () => {
    const { newest, file } = library.create(plan('good'), 'J. Doe', 'new');
    file.save({ base: 1, text: plan('good', '560 bar'), who: 'J. Doe', why: 'weaker fitting' });
    library.refresh();
    expect(library.versionWith(newest.sha256)).toMatchObject({ key: 'good', version: { version: 1 } });
    expect(library.versionWith('0'.repeat(64))).toBeNull();
  });
});

describe('searching', () => {
  let searched: PlanLibrary;
  const home = mkdtempSync(join(tmpdir(), 'library-'));
  beforeAll(() => {
    library = searched = new PlanLibrary(home);
    for (const name of ['ISO 1436 2SN DN12', 'ISO 1436 2SN DN16', 'ISO 1436 1SN DN12', 'EN 856 4SP DN12', 'SAE J517 100R12-16']) library.create(hose(name), 'J. Doe', 'new hose');
    library.create(plan('Molkerei Straße, Überdruck', '300 bar', 'shop rule for cleaning lances'), 'J. Doe', 'new');
  });
  beforeEach(() => {
    library = searched;
  });
  afterAll(() => rmSync(home, { recursive: true, force: true }));

  // Working pressures: ISO 1436 2SN DN 12 275 bar, 1SN DN 12 160 bar; EN 856 4SP DN 12 415 bar; 100R12-16 4000 psi (published tables, see hose-tables).
  it.each<[string, string[]]>([
    ['2SN 12', ['iso-1436-2sn-dn-12.5-proof']],
    ['2sn dn12', ['iso-1436-2sn-dn-12.5-proof']],
    ['2 SN', ['iso-1436-2sn-dn-12.5-proof', 'iso-1436-2sn-dn-16-proof']],
    ['1/2"', ['en-856-4sp-dn-12.5-proof', 'iso-1436-1sn-dn-12.5-proof', 'iso-1436-2sn-dn-12.5-proof']],
    ['DN 12 -8', ['en-856-4sp-dn-12.5-proof', 'iso-1436-1sn-dn-12.5-proof', 'iso-1436-2sn-dn-12.5-proof']],
    ['550 bar', ['iso-1436-2sn-dn-12.5-proof', 'sae-j517-100r12-dn-25-proof']],
    ['4000 psi', ['sae-j517-100r12-dn-25-proof', 'iso-1436-2sn-dn-12.5-proof']],
    ['27.5 MPa 2sn', ['iso-1436-2sn-dn-12.5-proof']],
    ['280 bar', ['sae-j517-100r12-dn-25-proof', 'iso-1436-2sn-dn-12.5-proof']],
    ['uberdruck', ['molkerei-straße-überdruck']],
    ['lances', ['molkerei-straße-überdruck']],
    ['molkerie', ['molkerei-straße-überdruck']],
    ['2SN 77', []],
    ['999 bar', []],
    ['nothing of the kind', []],
  ])('%s', (query, keys) => expect(found(query).sort()).toEqual([...keys].sort()));

  it('with nothing asked shows all, what was used last first', () => {
    const used = new Map([['en-856-4sp-dn-12.5-proof', 5], ['iso-1436-2sn-dn-16-proof', 9]]);
    const keys = library.find('', ({ key }) => used.get(key) ?? null).map(({ key }) => key);
    expect(keys).toHaveLength(6);
    expect(keys.slice(0, 2)).toEqual(['iso-1436-2sn-dn-16-proof', 'en-856-4sp-dn-12.5-proof']);
    expect(library.find('DN12', ({ key }) => used.get(key) ?? null)[0]?.key).toBe('en-856-4sp-dn-12.5-proof');
  });
});
