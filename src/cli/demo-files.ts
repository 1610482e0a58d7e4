import { existsSync, rmdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { stringify } from 'yaml';
import { demoPlan, demoThresholds } from '../../simulators/player.js';
import { makeFolder } from '../files/make-folder.js';
import { writing } from '../library/whole-file.js';
import { findHose } from '../plans/find-hose.js';
import { planForHose } from '../plans/plan-for-hose.js';

/** Hoses that the demo's shop has plans for. */
const hoses = ['ISO 1436 1SN DN10', 'ISO 1436 2SN DN12', 'ISO 1436 2SN DN20', 'EN 856 4SP DN16', 'EN 856 4SH DN25', 'SAE J517 100R12-16'];

/** The files of the demo's bench. */
export interface DemoFiles {
  readonly plan: string;
  readonly plans: string;
  readonly thresholds: string;
  /** Takes away what was made just now: a demo that cannot begin leaves nothing behind. */
  undo(): void;
}

/** Puts a plan, thresholds and a small library beside the demo's store, so that they can be looked at and changed; those that are there stay as they are. @throws InputError */
export function demoFiles(store: string): DemoFiles {
  const folder = dirname(resolve(store));
  const plans = join(folder, 'demo-plans');
  const files = { plan: join(plans, 'demo.yaml'), plans, thresholds: join(folder, 'demo-thresholds.yaml') };
  const missing = [folder, plans, files.plan, files.thresholds].filter((path) => !existsSync(path));
  const undo = (): void => missing.reverse().forEach(takeAway);
  try {
    writing(folder, () => write(files, missing));
  } catch (error) {
    undo();
    throw error;
  }
  return { ...files, undo };
}

function write({ plan, plans, thresholds }: Omit<DemoFiles, 'undo'>, missing: string[]): void {
  makeFolder(plans);
  if (missing.includes(plans)) {
    for (const hose of hoses) {
      const path = join(plans, `${hose.toLowerCase().replaceAll(/[^a-z0-9]+/g, '-')}.yaml`);
      missing.push(path);
      writeFileSync(path, planForHose({ hose: findHose(hose), fittings: [], kind: 'proof' }));
    }
  }
  if (missing.includes(plan)) writeFileSync(plan, stringify(demoPlan));
  if (missing.includes(thresholds)) writeFileSync(thresholds, stringify(demoThresholds));
}

/** A folder in which something else lies by now stays. */
function takeAway(path: string): void {
  try {
    if (statSync(path).isDirectory()) rmdirSync(path);
    else rmSync(path);
  } catch {
    // It is not there, or no longer ours alone.
  }
}
