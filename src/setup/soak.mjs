// Bundles the soak and runs it: `npm run soak -- [--days 30] [--runs 12] [--spacing 3]`.
import './node-version.mjs';
import { spawnSync } from 'node:child_process';
import { ensureBuilt } from './build.mjs';
import { ensureInstalled } from './install.mjs';
import { inRoot, root } from './places.mjs';

ensureInstalled();
// The threads that a program begins are files of their own beside its commands.
await ensureBuilt({ withPages: false });
const { build } = await import('esbuild');
const out = inRoot('dist', 'soak', 'main.js');
await build({
  absWorkingDir: root, entryPoints: [inRoot('tests', 'daemon', 'soak-main.ts')], outfile: out, bundle: true, packages: 'external',
  platform: 'node', target: 'node20', format: 'esm', sourcemap: true, logLevel: 'warning',
});
const { status } = spawnSync(process.execPath, ['--expose-gc', '--enable-source-maps', out, ...process.argv.slice(2)], { stdio: 'inherit' });
process.exit(status ?? 1);
