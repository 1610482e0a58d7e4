import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { folderWith, run } from './run-cli.js';

describe('plan', () => {
  it('writes a plan that check finds right', async () => {
    const folder = folderWith({});
    const { code, stdout } = await run(folder, 'plan', '--hose', 'ISO 1436 2SN DN12', '--fitting-rating', '350 bar', '--fitting-rating', '250 bar');
    expect(code).toBe(0);
    expect(stdout).toMatch(/^testPressure: 500 bar /m);
    writeFileSync(join(folder, 'plan.yaml'), stdout);
    expect(await run(folder, 'check', 'plan.yaml')).toEqual({ code: 0, stdout: 'plan.yaml: a plan without errors\n', stderr: '' });
  });

  it('takes the working pressure that is printed on the hose', async () => {
    const { stdout } = await run(folderWith({}), 'plan', '--working-pressure', '5000 psi', '--kind', 'leakage');
    expect(stdout).toMatch(/^testPressure: 14000 psi /m);
    expect(stdout).toContain('# DESTRUCTIVE');
  });

  it('lists what it knows', async () => {
    const { code, stdout } = await run(folderWith({}), 'plan', '--list');
    expect(stdout).toContain('ISO 1436 = EN 853 (wire braid reinforced)\n  1SN, 2SN\n');
    expect(code).toBe(0);
  });

  it.each([
    [['--hose', '2SX DN12'], "--hose: '2SX DN12': there is no type '2SX'; did you mean '2SN'?"],
    [['--hose', '2SN DN12', '--fitting-rating', '350'], "--fitting-rating: '350' has no unit; write for example '350 bar'"],
    [['--hose', '2SN DN12', '--hold', '29.9 s'], "--hold: '29.9 s' is too short; the proof pressure is held for 30 s to 60 s (ISO 6605:2017, 5.2.1; SAE J343)"],
    [['--hose', '2SN DN12', '--kind', 'burst', '--hold', '60 s'], '--hold: is for a proof test; the holds of a burst test are fixed by the standards'],
    [[], "plan: give either --hose, for example --hose 'ISO 1436 2SN DN12', or --working-pressure, for example --working-pressure '275 bar'"],
  ])('refuses %j', async (args, sentence) => {
    expect(await run(folderWith({}), 'plan', ...args)).toEqual({ code: 2, stdout: '', stderr: `${sentence}\n` });
  });
});
