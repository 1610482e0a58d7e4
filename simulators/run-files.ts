import { mkdir, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { runScenario, scenarioNamed, type ScenarioRun } from './run-scenario.js';
import { csvOf } from './trace-csv.js';

/**
 * Writes `NAME-SEED.csv`, `.plan.yaml`, `.truth.json` and, where the scenario has its own thresholds,
 * `.thresholds.yaml`, for seeds 1 to `seeds` of each scenario.
 * @throws InputError for an unknown name, before anything is written.
 */
export async function writeRuns(folder: string, names: readonly string[], seeds: number, onScenario: (name: string) => void = () => undefined): Promise<void> {
  for (const name of names) scenarioNamed(name);
  await mkdir(folder, { recursive: true });
  for (const name of names) {
    for (let seed = 1; seed <= seeds; seed++) await writeRun(folder, runScenario(name, seed));
    onScenario(name);
  }
}

async function writeRun(folder: string, run: ScenarioRun): Promise<void> {
  const base = join(folder, `${run.scenario.name}-${run.seed}`);
  await writeFile(`${base}.csv`, csvOf(run.samples, run.setup.transducer));
  await writeFile(`${base}.plan.yaml`, run.planText);
  await writeFile(`${base}.truth.json`, `${JSON.stringify(run.truth)}\n`);
  if (run.thresholdsText !== null) await writeFile(`${base}.thresholds.yaml`, run.thresholdsText);
}
