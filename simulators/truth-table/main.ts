import { existsSync, readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { parse } from 'yaml';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import { importTrace } from '../../src/core/import/import-trace.js';
import { listScenarios, runScenario } from '../run-scenario.js';
import type { Truth } from '../truth.js';
import { compare, type Comparison } from './compare.js';
import { drawnTable } from './drawn.js';
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
  const all = folder === undefined ? simulated(Number(option('--seeds') ?? 10), option('--only')) : recorded(folder);
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

/** Judges NAME.csv by NAME.plan.yaml, NAME.thresholds.yaml (where there is one) and the instrument of NAME.truth.json. */
function recorded(folder: string): Comparison[] {
  return readdirSync(folder).filter((f) => f.endsWith('.truth.json')).map((file) => {
    const name = file.slice(0, -'.truth.json'.length);
    const text = (suffix: string) => readFileSync(join(folder, `${name}${suffix}`), 'utf8');
    const plan = parsePlan(parse(text('.plan.yaml')), `${name}.plan.yaml`);
    const own = existsSync(join(folder, `${name}.thresholds.yaml`));
    const thresholds = parseThresholds(own ? parse(text('.thresholds.yaml')) : undefined, `${name}.thresholds.yaml`);
    const truth = JSON.parse(text('.truth.json')) as Truth;
    const { trace, report } = importTrace(text('.csv'), `${name}.csv`);
    const instrument = { ...(report.resolution === null ? {} : { resolution: report.resolution }), ...truth.instrument };
    return compare(name, judge(trace, plan, thresholds, instrument), truth, plan);
  });
}

main(process.argv.slice(2));
