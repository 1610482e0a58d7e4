import { spawn } from 'node:child_process';
import { chmodSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { beforeAll, describe, expect, it } from 'vitest';
import { addPerson, readPeople } from '../../src/access/people-file.js';
import { isSecret } from '../../src/access/secret-hash.js';
import { readBench } from '../../src/daemon/bench-setup.js';
import { personOf } from '../access/people-of-tests.js';
import { until } from '../server/until.js';
import { folderWith, run, type Ended } from './run-cli.js';

const program = fileURLToPath(new URL('../../src/setup/dwellkeeper.mjs', import.meta.url));

// Builds once, so that the first test does not pay for it.
beforeAll(async () => void (await run(tmpdir(), '--version')));

/** Runs the command with a secret on its stdin. */
function typed(folder: string, secret: string, ...args: readonly string[]): Promise<Ended> {
  return new Promise((resolve, reject) => {
    const child = spawn(process.execPath, [program, 'people', ...args], { cwd: folder, stdio: 'pipe' });
    const said = { stdout: '', stderr: '' };
    child.stdout.setEncoding('utf8').on('data', (text: string) => (said.stdout += text));
    child.stderr.setEncoding('utf8').on('data', (text: string) => (said.stderr += text));
    child.on('error', reject);
    child.on('close', (code) => resolve({ code, ...said }));
    child.stdin.on('error', () => undefined);
    child.stdin.end(secret);
  });
}

const bench = 'bench: north\npeople: people.yaml\npage: { address: 0.0.0.0 }\nchannels:\n  - { input: { driver: serial-line, path: /dev/ttyUSB0 }, unit: bar, range: { upper: 1000 bar } }\n';

describe('people', () => {
  it('adds, changes and removes somebody, and never writes a secret', async () => {
    const folder = folderWith({});
    const file = join(folder, 'people.yaml');
    const added = await typed(folder, 'brass ferrule nineteen\n', 'add', 'E. Lindqvist', '--role', 'engineer');
    expect(added).toMatchObject({ code: 0, stderr: '' });
    expect(added.stdout).toBe('people.yaml: E. Lindqvist is engineer\nName the file in the bench file, relative to it: people: people.yaml\n');
    expect(await typed(folder, '480271\n', 'add', '=HYPERLINK("x")', '--role', 'operator')).toMatchObject({ code: 0 });
    expect(statSync(file).mode & 0o777).toBe(0o600);
    expect(readFileSync(file, 'utf8')).not.toMatch(/brass|480271/);
    writeFileSync(file, readFileSync(file, 'utf8').replace('people:\n', 'people:\n  # bay 2\n'));

    expect(await typed(folder, '', 'change', '=hyperlink("x")', '--role', 'viewer')).toMatchObject({ code: 0 });
    expect(await typed(folder, '590382\n', 'change', '=hyperlink("x")', '--secret')).toMatchObject({ code: 0 });
    const [engineer, viewer] = readPeople(file);
    expect([engineer?.name, engineer?.role, viewer?.name, viewer?.role]).toEqual(['E. Lindqvist', 'engineer', '=HYPERLINK("x")', 'viewer']);
    expect([await isSecret('brass ferrule nineteen', engineer?.secret ?? ''), await isSecret('480271', viewer?.secret ?? ''), await isSecret('590382', viewer?.secret ?? '')]).toEqual([true, false, true]);
    const list = await run(folder, 'people', 'list', '--json');
    expect(JSON.parse(list.stdout)).toEqual([{ name: 'E. Lindqvist', role: 'engineer' }, { name: '=HYPERLINK("x")', role: 'viewer' }]);
    expect(await run(folder, 'people', 'remove', '=HYPERLINK("x")')).toMatchObject({ code: 0 });
    expect((await run(folder, 'people', 'remove', 'E. Lindqvist')).stderr).toContain("'E. Lindqvist' is the only one");
    expect(readFileSync(file, 'utf8')).toContain('# bay 2');
    expect(statSync(file).mode & 0o777).toBe(0o600);
  });

  it('tells what is wrong in one sentence, and writes nothing', async () => {
    const folder = folderWith({});
    for (const [secret, args, sentence] of [
      ['48027\n', ['add', 'J. Doe', '--role', 'operator'], 'people: PIN or pass phrase: should be a PIN of at least 6 digits'],
      ['480271\n', ['add', 'file on disk', '--role', 'operator'], 'people.yaml: name: is a name that the program itself uses; choose another'],
    ] as const) {
      const { code, stderr } = await typed(folder, secret, ...args);
      expect([code, stderr.trim()]).toEqual([2, sentence]);
    }
    expect(() => statSync(join(folder, 'people.yaml'))).toThrow();
  });

  it('does not show what is typed at a terminal, and asks twice', async () => {
    const folder = folderWith({});
    const child = spawn('socat', ['-', `EXEC:"${process.execPath} ${program} people add Doe --role operator",pty,ctty,setsid,stderr`], { cwd: folder, stdio: 'pipe' });
    let shown = '';
    for (const stream of [child.stdout, child.stderr]) stream.setEncoding('utf8').on('data', (text: string) => (shown += text));
    await until('it asks', () => shown.includes('(not shown): '));
    child.stdin.write('480271\r');
    await until('it asks once more', () => shown.includes('Once more: '));
    child.stdin.write('480271\r');
    await until('it is done', () => shown.includes('Doe is operator'));
    expect(shown).not.toContain('480271');
    child.stdin.end();
    expect(readPeople(join(folder, 'people.yaml'))).toMatchObject([{ name: 'Doe', role: 'operator' }]);
  });
});

describe('a page for the network', () => {
  it('needs people first, and says so in one sentence', async () => {
    const folder = folderWith({ 'bench.yaml': bench.replace('people: people.yaml\n', '') });
    for (const command of ['check', 'start']) {
      const { code, stderr } = await run(folder, command, 'bench.yaml');
      expect(code).toBe(2);
      expect(stderr.trim().split('\n')).toHaveLength(1);
      expect(stderr).toContain("page.address: '0.0.0.0' can be reached from other machines, and that needs people to be set up first");
    }
  });

  it('is checked with its list of people, its names and its certificate', async () => {
    const folder = folderWith({ 'bench.yaml': bench, 'names.yaml': bench.replace('0.0.0.0 }', '0.0.0.0, names: [http://bench2] }'), 'tls.yaml': bench.replace('0.0.0.0 }', '0.0.0.0, tls: { certificate: a.pem, key: a.key } }') });
    const said = (name: string): string => {
      try {
        readBench(join(folder, name));
        return '';
      } catch (error) {
        return String(error);
      }
    };
    expect(said('bench.yaml')).toContain('people.yaml: there is no such file');
    const file = join(folder, 'people.yaml');
    addPerson(file, await personOf('operator'));
    const good = await run(folder, 'check', 'bench.yaml', 'people.yaml');
    expect(good.code).toBe(0);
    expect(good.stderr).toMatch(/^warning: bench\.yaml: (line \d+, )?page: what people type, their secrets too, can be read and changed on its way/);
    chmodSync(file, 0o644);
    expect(said('bench.yaml')).toContain('may be read by everybody on this computer; run chmod o= on it');
    chmodSync(file, 0o600);
    writeFileSync(file, readFileSync(file, 'utf8').replace(/secret: .*/, 'secret: "480271"'));
    expect(said('bench.yaml')).toContain('is no hash of a secret; never write a secret in here');
    expect(said('bench.yaml')).not.toContain('480271');
    expect(said('names.yaml')).toContain('page.names.0: should be a name alone, without http://, port or path');
    expect(said('tls.yaml')).toContain('a.pem: there is no such file');
  });
});
