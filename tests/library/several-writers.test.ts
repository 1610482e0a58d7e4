import { execFile } from 'node:child_process';
import { mkdtempSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { expect, it } from 'vitest';
import { planKind } from '../../src/library/setting-kind.js';
import { VersionedFile } from '../../src/library/versioned-file.js';
import { bundledEntry } from '../records/bundled-entry.js';

const run = promisify(execFile);

it('three programs that save one plan at once: every save is a version of its own, none is lost, none twice', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'writers-'));
  const entry = await bundledEntry('tests/library/eager-writer.ts');
  try {
    const path = join(folder, 'shared.yaml');
    const told = await Promise.all(['one', 'two', 'three'].map(async (name) => (await run(process.execPath, [entry.path, path, name, '8'])).stdout));
    const saved = told.flatMap((text) => text.trim().split('\n'));
    const file = new VersionedFile(path, planKind);
    const { newest } = file.look();
    const versions = file.versions();
    expect(saved).toHaveLength(24);
    expect(versions.map(({ why }) => why).sort()).toEqual([...saved].sort());
    expect(versions.map(({ version }) => version)).toEqual(versions.map((_, i) => i + 1));
    for (const mark of saved) expect(newest?.text).toContain(`# ${mark}\n`);
    expect(file.versionProblems()).toBeNull();
    expect(readdirSync(folder).filter((name) => name.endsWith('.part'))).toEqual([]);
  } finally {
    entry.remove();
    rmSync(folder, { recursive: true, force: true });
  }
});
