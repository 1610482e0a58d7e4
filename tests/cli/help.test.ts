import { spawn } from 'node:child_process';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { recording } from './bench-recording.js';
import { folderWith, run } from './run-cli.js';

const commandsIn = (help: string) => [...help.matchAll(/^ {2}([a-z][a-z-]+) {2,}\S/gm)].map((match) => match[1] ?? '').filter((name) => name !== 'help');

describe('help', () => {
  it('lists the commands, says what the tool is not, and exits 0', async () => {
    const { code, stdout } = await run(folderWith({}), '--help');
    expect(commandsIn(stdout)).toEqual(expect.arrayContaining(['demo', 'start', 'check', 'judge', 'judge-many', 'plan', 'simulate']));
    expect(stdout).toContain('no safety device');
    expect(code).toBe(0);
  });

  it('carries an example for every command, and the same words as the list', async () => {
    const folder = folderWith({});
    const { stdout: list } = await run(folder, '--help');
    for (const name of commandsIn(list)) {
      const { code, stdout } = await run(folder, name, '--help');
      expect(stdout, name).toMatch(new RegExp(`Examples?:\\n {2}dwellkeeper ${name}\\b`));
      const summary = new RegExp(`^ {2}${name} .*? {2,}(.*)$`, 'm').exec(list.replaceAll(/\n {10,}/g, ' '))?.[1] ?? new RegExp(`^ {2}${name} +(.*)$`, 'm').exec(list.replaceAll(/\n {10,}/g, ' '))?.[1] ?? 'none';
      expect(stdout.replaceAll(/\s+/g, ' '), name).toContain(summary.replaceAll(/\s+/g, ' ').trim());
      expect(code, name).toBe(0);
    }
  }, 300_000);

  it('tells its version', async () => {
    const { code, stdout } = await run(folderWith({}), '--version');
    expect(stdout).toMatch(/^dwellkeeper \d+\.\d+\.\d+\n$/);
    expect(code).toBe(0);
  });

  it('ends quietly when the reader of its output stops early', async () => {
    const folder = folderWith({ 'trace.csv': recording() });
    const program = fileURLToPath(new URL('../../src/setup/dwellkeeper.mjs', import.meta.url));
    const child = spawn(process.execPath, [program, 'judge', 'trace.csv', '--json'], { cwd: folder, stdio: ['ignore', 'pipe', 'pipe'] });
    child.stdout.destroy();
    let stderr = '';
    child.stderr.setEncoding('utf8').on('data', (text: string) => (stderr += text));
    await new Promise((resolve) => child.on('close', resolve));
    expect(stderr).toBe('');
  });
});
