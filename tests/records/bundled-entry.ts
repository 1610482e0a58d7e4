import { mkdirSync, rmSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../..', import.meta.url));
/** Packages with parts that are no JavaScript, or that find their own files. */
const apart = ['better-sqlite3', 'pino', 'serialport'];

/**
 * Bundles a TypeScript file, with the packages it imports, so that a child process can run it and is ready in a third of
 * a second. The bundle lies below node_modules, from where the few packages that stay apart are found.
 * @param threads files of `src/cli` for the threads that it begins
 * @returns path of the bundle, and what deletes it.
 */
export async function bundledEntry(entry: string, threads: readonly string[] = []): Promise<{ path: string; remove: () => void }> {
  const folder = `${root}node_modules/.cache/entries-${process.pid}`;
  const path = `${folder}/run/${entry.replaceAll(/[^\w]/g, '-')}.cjs`;
  mkdirSync(`${folder}/run`, { recursive: true });
  const bundle = (from: string, outfile: string) =>
    build({
      entryPoints: [from], outfile, bundle: true, external: apart, format: 'cjs', platform: 'node', target: 'node20', minify: true, logLevel: 'error',
      define: { 'import.meta.url': 'here' }, banner: { js: "const here = require('node:url').pathToFileURL(__filename).href;" },
    });
  await bundle(`${root}${entry}`, path);
  for (const name of threads) await bundle(`${root}src/cli/${name}.ts`, `${folder}/cli/${name}.js`);
  return {
    path,
    remove: () => {
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
