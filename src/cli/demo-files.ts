import { existsSync, writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { stringify } from 'yaml';
import { demoPlan, demoThresholds } from '../../simulators/player.js';
import { makeFolder } from '../files/make-folder.js';
import { findHose } from '../plans/find-hose.js';
import { planForHose } from '../plans/plan-for-hose.js';

/** Hoses that the demo's shop has plans for. */
const hoses = ['ISO 1436 1SN DN10', 'ISO 1436 2SN DN12', 'ISO 1436 2SN DN20', 'EN 856 4SP DN16', 'EN 856 4SH DN25', 'SAE J517 100R12-16'];

/** The files of the demo's bench. */
export interface DemoFiles {
  readonly plan: string;
  readonly plans: string;
  readonly thresholds: string;
}

/** Puts a plan, thresholds and a small library beside the demo's store, so that they can be looked at and changed; those that are there stay as they are. */
export function demoFiles(store: string): DemoFiles {
  const folder = dirname(resolve(store));
  const plans = join(folder, 'demo-plans');
  const files = { plan: join(plans, 'demo.yaml'), plans, thresholds: join(folder, 'demo-thresholds.yaml') };
  if (!existsSync(plans)) {
    makeFolder(plans);
    for (const hose of hoses) {
      const name = hose.toLowerCase().replaceAll(/[^a-z0-9]+/g, '-');
      writeFileSync(join(plans, `${name}.yaml`), planForHose({ hose: findHose(hose), fittings: [], kind: 'proof' }));
    }
  }
  if (!existsSync(files.plan)) writeFileSync(files.plan, stringify(demoPlan));
  if (!existsSync(files.thresholds)) writeFileSync(files.thresholds, stringify(demoThresholds));
  return files;
}
