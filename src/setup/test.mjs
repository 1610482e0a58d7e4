// npm test: installs what is missing, then type check, lint, build and every test. A failure ends it.
import './node-version.mjs';
import { spawn } from 'node:child_process';
import { ensureDebianPackages } from './debian-packages.mjs';
import { ensureInstalled } from './install.mjs';
import { inRoot, root } from './places.mjs';

/** What still runs when this ends is not wanted any more. */
const running = new Set();
process.on('exit', () => running.forEach((child) => child.kill()));

/** Runs one of the installed tools. `quiet` collects what it says and shows it only when it fails. */
function step(name, script, args, { quiet = false } = {}) {
  const began = performance.now();
  return new Promise((resolve) => {
    const child = spawn(process.execPath, [inRoot(script), ...args], { cwd: root, stdio: ['ignore', quiet ? 'pipe' : 1, quiet ? 'pipe' : 2] });
    running.add(child);
    const said = [];
    child.stdout?.on('data', (chunk) => said.push(chunk));
    child.stderr?.on('data', (chunk) => said.push(chunk));
    child.on('error', (error) => said.push(Buffer.from(`${error.message}\n`)));
    child.on('close', (code) => {
      running.delete(child);
      const seconds = ((performance.now() - began) / 1000).toFixed(1);
      if (code !== 0) process.stdout.write(Buffer.concat(said));
      console.log(code === 0 ? `${name}: done in ${seconds} s` : `${name}: FAILED after ${seconds} s`);
      resolve({ name, code: code ?? 1 });
    });
  });
}

function stopOn(results) {
  const failed = results.filter(({ code }) => code !== 0);
  if (failed.length === 0) return;
  console.log(`Stopped: ${failed.map(({ name }) => name).join(' and ')} failed.`);
  process.exit(failed[0].code);
}

ensureInstalled();
if (!ensureDebianPackages()) process.exit(1);

const source = ['src', 'drivers', 'simulators', 'dashboards', 'tests'];
// The lint goes on beside the tests: they wait for timers and devices a third of the time.
const lint = step('lint', 'node_modules/eslint/bin/eslint.js', ['--config', '.config/eslint.config.js', ...source], { quiet: true });
stopOn([await step('type check', 'node_modules/typescript/bin/tsc', ['--noEmit'], { quiet: true })]);
stopOn([await step('build', 'src/setup/build.mjs', [])]);
const tests = step('tests', 'node_modules/vitest/vitest.mjs', ['run', '--config', '.config/vitest.config.ts', ...process.argv.slice(2)]);
// A failure of the lint is told at once, not after the tests.
stopOn([await lint]);
stopOn([await tests]);
