import { judge } from '../../src/core/judge.js';
import { InputError } from '../../src/core/problems.js';
import { listScenarios, runScenario } from '../run-scenario.js';
import { compare, type Comparison } from './compare.js';
import { drawnTable } from './drawn.js';
import { recorded } from './recorded.js';
import { tableOf } from './table.js';

/**
 * `truth [--seeds N] [--only FAMILY] [FOLDER]`: judges runs whose truth is known and prints how often it was right;
 * `truth --drawn N` does so with N drawn courses of each story.
 */
function main(args: readonly string[]): void {
  const option = (name: string) => {
    const i = args.indexOf(name);
    return i < 0 ? undefined : args[i + 1];
  };
  const drawn = option('--drawn');
  if (drawn !== undefined) {
    const { lines, falsePass } = drawnTable(Number(drawn));
    process.stdout.write(`${lines.join('\n')}\n`);
    process.exitCode = falsePass ? 1 : 0;
    return;
  }
  const folder = args.find((a, i) => !a.startsWith('--') && !(args[i - 1] ?? '').startsWith('--'));
  const { all, leftOut } = folder === undefined ? { all: simulated(Number(option('--seeds') ?? 10), option('--only')), leftOut: [] } : recorded(folder);
  for (const sentence of leftOut) console.error(sentence);
  process.stdout.write(`${tableOf(all).join('\n')}\n`);
  process.exitCode = all.some((c) => c.falsePass) ? 1 : 0;
}

function simulated(seeds: number, only: string | undefined): Comparison[] {
  const all: Comparison[] = [];
  for (const { name } of listScenarios()) {
    if (only !== undefined && !name.includes(only)) continue;
    for (let seed = 1; seed <= seeds; seed++) {
      const run = runScenario(name, seed);
      const outcomes = judge(run.samples, run.plan, run.thresholds, run.setup.instrument);
      all.push(compare(`${name} seed ${seed}`, outcomes, run.truth, run.plan));
    }
    if (process.stderr.isTTY) process.stderr.write(`\r${all.length} runs judged`);
  }
  if (process.stderr.isTTY) process.stderr.write('\n');
  return all;
}

try {
  main(process.argv.slice(2));
} catch (error) {
  if (!(error instanceof InputError)) throw error;
  console.error(error.message);
  process.exitCode = 2;
}
