// `npm run tune-proof [-- --seeds N --jobs N]`: bundles tests/tuning/tune-proof-main.ts and runs it.
import './node-version.mjs';
import { spawnSync } from 'node:child_process';
import { ensureBuilt } from './build.mjs';
import { ensureInstalled } from './install.mjs';
import { inRoot, root } from './places.mjs';

ensureInstalled();
// The threads that tuning begins are files of their own beside the commands.
await ensureBuilt({ withPages: false });
const { build } = await import('esbuild');
const outfile = inRoot('dist', 'tune-proof', 'main.mjs');
await build({
  absWorkingDir: root, entryPoints: [inRoot('tests', 'tuning', 'tune-proof-main.ts')], outfile, bundle: true, packages: 'external',
  platform: 'node', target: 'node20', format: 'esm', sourcemap: true, logLevel: 'warning',
});
const { status } = spawnSync(process.execPath, ['--enable-source-maps', outfile, ...process.argv.slice(2)], { stdio: 'inherit', cwd: root });
process.exit(status ?? 1);
