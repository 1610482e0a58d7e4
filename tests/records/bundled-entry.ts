import { mkdirSync, rmSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { build } from 'esbuild';

const root = fileURLToPath(new URL('../..', import.meta.url));

/**
 * Bundles a TypeScript file so that a child process can run it. The bundle lies below node_modules, from where the
 * packages it imports are found.
 * @returns path of the bundle, and what deletes it.
 */
export async function bundledEntry(entry: string): Promise<{ path: string; remove: () => void }> {
  const folder = `${root}node_modules/.cache/entries-${process.pid}`;
  mkdirSync(folder, { recursive: true });
  const path = `${folder}/${entry.replaceAll(/[^\w]/g, '-')}.mjs`;
  await build({ entryPoints: [`${root}${entry}`], outfile: path, bundle: true, packages: 'external', format: 'esm', platform: 'node', target: 'node20', logLevel: 'error' });
  return {
    path,
    remove: () => {
      rmSync(folder, { recursive: true, force: true });
    },
  };
}
