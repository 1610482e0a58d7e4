import { mkdirSync, readdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { folderWith, run } from './run-cli.js';

function shop(): string {
  const folder = folderWith({});
  mkdirSync(join(folder, 'plans'));
  writeFileSync(join(folder, 'plans', 'two-wire.yaml'), 'plan: two-wire 2SN DN12\ntestPressure: 8000 psi\nholdTime: 60 s\n');
  writeFileSync(join(folder, 'plans', 'spiral.yaml'), 'plan: spiral 4SP DN12\ntestPressure: 830 bar\nholdTime: 1 min\n');
  return folder;
}

describe('plans', () => {
  it('lists a folder, finds by size and pressure, and writes nothing', async () => {
    const folder = shop();
    expect(await run(folder, 'plans', 'plans')).toEqual({ code: 0, stderr: '', stdout: 'spiral: spiral 4SP DN12, 830 bar held 60 s\ntwo-wire: two-wire 2SN DN12, 551.581 bar held 60 s\n' });
    const { stdout } = await run(folder, 'plans', 'plans', 'DN12', '550 bar', '--json');
    expect(JSON.parse(stdout)).toMatchObject({ plans: [{ key: 'two-wire', testPressure_bar: expect.closeTo(551.5806, 3) as number, holdTime_s: 60, cycles: 1, version: 0 }], problems: [] });
    expect(readdirSync(join(folder, 'plans')).sort()).toEqual(['spiral.yaml', 'two-wire.yaml']);
  });

  it('names a file that is not right, lists the others, and exits 2', async () => {
    const folder = shop();
    writeFileSync(join(folder, 'plans', 'bad.yaml'), 'plan: bad\ntestPressure: 550\nholdTime: 60 s\n');
    const { code, stdout, stderr } = await run(folder, 'plans', 'plans');
    expect(code).toBe(2);
    expect(stdout.split('\n')).toHaveLength(3);
    expect(stderr).toBe("bad.yaml: line 2, testPressure: '550' has no unit; write for example '550 bar'\n");
  });

  it('says so where there is no such folder, and where nothing fits', async () => {
    const folder = shop();
    expect(await run(folder, 'plans', 'nowhere')).toMatchObject({ code: 2, stderr: 'nowhere: there is no such folder\n' });
    expect(await run(folder, 'plans', 'plans', '9XY')).toMatchObject({ code: 0, stdout: 'no plan fits\n' });
  });
});
