// `npm run bench [-- NAME]`: bundles tests/bench/*-bench.ts and runs each (or the one named). Prints; asserts nothing.
import './node-version.mjs';
import { spawnSync } from 'node:child_process';
import { readdirSync } from 'node:fs';
import { ensureBuilt } from './build.mjs';
import { ensureInstalled } from './install.mjs';
import { inRoot, root } from './places.mjs';

ensureInstalled();
// The threads that a program begins are files of their own beside its commands.
await ensureBuilt({ withPages: false });
const { build } = await import('esbuild');
const only = process.argv[2] ?? '';
const names = readdirSync(inRoot('tests', 'bench')).filter((name) => name.endsWith('-bench.ts') && name.includes(only));
for (const name of names) {
  const outfile = inRoot('dist', 'bench', name.replace(/ts$/, 'mjs'));
  await build({
    absWorkingDir: root, entryPoints: [inRoot('tests', 'bench', name)], outfile, bundle: true, packages: 'external',
    platform: 'node', target: 'node20', format: 'esm', logLevel: 'warning',
  });
  const { status } = spawnSync(process.execPath, ['--expose-gc', outfile, ...process.argv.slice(3)], { stdio: 'inherit' });
  if (status !== 0) process.exitCode = 1;
}
