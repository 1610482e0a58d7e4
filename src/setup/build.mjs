import './node-version.mjs';
import { spawnSync } from 'node:child_process';
import { existsSync, mkdirSync, readdirSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { basename, join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { isStale, markFresh } from './freshness.mjs';
import { ensureInstalled } from './install.mjs';
import { inRoot, root } from './places.mjs';

const hour = 3_600_000;
const cli = inRoot('dist', 'cli');
const pages = inRoot('dist', 'pages');
const viteConfig = inRoot('.config', 'vite.config.ts');

const cliStamp = join(cli, '.built');
const cliInputs = [
  ...['src', 'drivers', 'simulators'].map((folder) => inRoot(folder)),
  inRoot('package.json'),
  inRoot('package-lock.json'),
];
const pagesStamp = inRoot('dist', '.pages-built');
// The pages share the core, the live protocol and the words of the server with the daemon.
const pagesInputs = [inRoot('dashboards'), inRoot('src', 'core'), inRoot('src', 'sinks'), inRoot('src', 'server'), viteConfig, inRoot('package-lock.json')];

/** Entry files of the program: the commands, and every worker that a command starts. */
function entries() {
  const folder = inRoot('src', 'cli');
  return readdirSync(folder)
    .filter((name) => name === 'main.ts' || name.endsWith('-worker.ts'))
    .map((name) => join(folder, name));
}

/**
 * Bundles the commands into dist/cli. Every file is put in place whole and the entry files come last, so that two builds
 * at once, or a program that is running meanwhile, never see half of one.
 */
async function buildCli() {
  const began = Date.now();
  const { build } = await import('esbuild');
  const { outputFiles } = await build({
    absWorkingDir: root,
    entryPoints: entries(),
    outdir: cli,
    entryNames: '[name]',
    chunkNames: 'part-[hash]',
    bundle: true,
    splitting: true,
    packages: 'external',
    platform: 'node',
    target: 'node20',
    format: 'esm',
    sourcemap: true,
    write: false,
    logLevel: 'warning',
  });
  mkdirSync(cli, { recursive: true });
  const parts = outputFiles.filter((file) => basename(file.path).startsWith('part-'));
  for (const file of [...parts, ...outputFiles.filter((other) => !parts.includes(other))]) {
    const unfinished = `${file.path}.${process.pid}`;
    writeFileSync(unfinished, file.contents);
    renameSync(unfinished, file.path);
  }
  const kept = new Set(outputFiles.map((file) => basename(file.path)));
  for (const name of readdirSync(cli)) {
    const path = join(cli, name);
    // A program that was started before may still load its own parts.
    const left = statSync(path, { throwIfNoEntry: false });
    if (!kept.has(name) && name !== basename(cliStamp) && left && began - left.mtimeMs > hour) rmSync(path, { force: true });
  }
  markFresh(cliStamp, began);
}

/** Builds the browser pages into dist/pages. */
function buildPages() {
  const began = Date.now();
  const vite = inRoot('node_modules', 'vite', 'bin', 'vite.js');
  const args = ['build', '--config', viteConfig, '--outDir', pages, '--emptyOutDir', '--logLevel', 'warn'];
  const { status } = spawnSync(process.execPath, [vite, ...args], { cwd: root, stdio: ['ignore', 2, 2] });
  if (status !== 0) throw new Error('vite could not build the pages; its message is above');
  markFresh(pagesStamp, began);
}

/** Builds what is out of date: the commands always, the pages when they are wanted. */
export async function ensureBuilt({ withPages = true } = {}) {
  if (isStale(cliStamp, cliInputs)) await buildCli();
  if (withPages && existsSync(viteConfig) && isStale(pagesStamp, pagesInputs)) buildPages();
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? '').href) {
  ensureInstalled();
  try {
    await ensureBuilt();
  } catch (error) {
    console.error(`The build failed: ${error.message}`);
    process.exit(1);
  }
}
