// `npm run pictures [-- NAME]`: bundles tests/pictures/main.ts and takes a picture of every page (or of the one named) for the README.
import './node-version.mjs';
import { spawnSync } from 'node:child_process';
import { ensureBuilt } from './build.mjs';
import { ensureInstalled } from './install.mjs';
import { inRoot, root } from './places.mjs';

ensureInstalled();
await ensureBuilt();
const { build } = await import('esbuild');
const outfile = inRoot('dist', 'pictures', 'main.mjs');
await build({
  absWorkingDir: root, entryPoints: [inRoot('tests', 'pictures', 'main.ts')], outfile, bundle: true, packages: 'external',
  platform: 'node', target: 'node20', format: 'esm', logLevel: 'warning',
});
const { status } = spawnSync(process.execPath, [outfile, ...process.argv.slice(2)], { stdio: 'inherit', cwd: root });
process.exit(status ?? 1);
