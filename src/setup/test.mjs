// npm test: installs what is missing, then type check, lint, build and every test. The first failure ends it.
import './node-version.mjs';
import { spawn } from 'node:child_process';
import { ensureDebianPackages } from './debian-packages.mjs';
import { ensureInstalled } from './install.mjs';
import { inRoot, root } from './places.mjs';

/** Runs one of the installed tools. `quiet` collects what it says and shows it only when it fails. */
function step(name, script, args, { quiet = false } = {}) {
  const began = performance.now();
  return new Promise((resolve) => {
    const child = spawn(process.execPath, [inRoot(script), ...args], { cwd: root, stdio: ['ignore', quiet ? 'pipe' : 1, quiet ? 'pipe' : 2] });
    const said = [];
    child.stdout?.on('data', (chunk) => said.push(chunk));
    child.stderr?.on('data', (chunk) => said.push(chunk));
    child.on('error', (error) => said.push(Buffer.from(`${error.message}\n`)));
    child.on('close', (code) => {
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
stopOn(
  await Promise.all([
    step('type check', 'node_modules/typescript/bin/tsc', ['--noEmit'], { quiet: true }),
    step('lint', 'node_modules/eslint/bin/eslint.js', ['--config', '.config/eslint.config.js', ...source], { quiet: true }),
  ]),
);
stopOn([await step('build', 'src/setup/build.mjs', [])]);
stopOn([await step('tests', 'node_modules/vitest/vitest.mjs', ['run', '--config', '.config/vitest.config.ts', ...process.argv.slice(2)])]);
