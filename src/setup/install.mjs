import './node-version.mjs';
import { spawnSync } from 'node:child_process';
import { existsSync, readFileSync, statSync, utimesSync } from 'node:fs';
import { pathToFileURL } from 'node:url';
import { inRoot, root } from './places.mjs';

const wanted = inRoot('package-lock.json');
const present = inRoot('node_modules', '.package-lock.json');

/** True when everything in package-lock.json is in node_modules, in the same version. */
function sameVersions() {
  const lock = JSON.parse(readFileSync(wanted, 'utf8')).packages;
  const there = JSON.parse(readFileSync(present, 'utf8')).packages;
  return Object.entries(lock).every(
    ([path, entry]) => path === '' || (there[path] ? there[path].version === entry.version : entry.optional === true),
  );
}

/** The dates decide in most cases; a lock file that is only newer by date (a fresh checkout of the same text) does not. */
function installed() {
  if (!existsSync(present)) return false;
  if (statSync(present).mtimeMs >= statSync(wanted).mtimeMs) return true;
  if (!sameVersions()) return false;
  const now = new Date();
  utimesSync(present, now, now);
  return true;
}

/** Installs the npm packages where they are missing or older than the lock file. Exits when npm cannot. */
export function ensureInstalled() {
  if (installed()) return;
  console.error('Installing the npm packages (the embedded database is compiled once; this takes one or two minutes)...');
  const npm = process.env.npm_execpath;
  const args = ['ci', '--no-audit', '--no-fund'];
  const { status, error } = npm?.endsWith('.js')
    ? spawnSync(process.execPath, [npm, ...args], { cwd: root, stdio: ['ignore', 2, 2] })
    : spawnSync('npm', args, { cwd: root, stdio: ['ignore', 2, 2], shell: process.platform === 'win32' });
  if (status === 0) return;
  console.error(`npm ci failed${error ? `: ${error.message}` : ''}. The packages are needed; run 'npm ci' in the folder of package.json.`);
  process.exit(status ?? 1);
}

if (import.meta.url === pathToFileURL(process.argv[1] ?? '').href) ensureInstalled();
