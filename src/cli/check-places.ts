import { accessSync, constants, existsSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import type { Bench } from '../acquisition/bench-file.js';
import { judgedChannel } from '../acquisition/judged-channel.js';
import type { Plan } from '../core/plan.js';
import type { ProblemGatherer } from '../core/problem-gatherer.js';
import { inputError, InputError, type Problem } from '../core/problems.js';
import { showQuantity } from '../core/quantity.js';
import { refuseUnwritable } from '../records/disk-refusal.js';
import { refuseForeignFile } from '../records/foreign-file.js';

/** Looks whether the store of a bench can be written and its recordings are there. Opens and writes nothing. */
export function checkPlaces({ store, links }: Bench, source: string, problems: ProblemGatherer): void {
  problems.attempt(() => {
    try {
      refuseForeignFile(store);
      refuseUnwritable(store);
      if (!existsSync(store)) refuseFolderOf(store);
    } catch (error) {
      if (!(error instanceof InputError)) throw error;
      throw inputError(source, 'store', `${store} ${error.problems.map(({ text }) => text).join('; ')}`, error);
    }
  });
  for (const { input, place } of links) {
    if (input.driver !== 'replay') continue;
    const found = statSync(input.path, { throwIfNoEntry: false });
    if (found === undefined) problems.attempt(() => { throw inputError(source, `${place}.path`, `there is no file ${input.path}`); });
    else if (!found.isFile()) problems.attempt(() => { throw inputError(source, `${place}.path`, `${input.path} is no file; it should be a recorded trace`); });
  }
}

/** The folder is made when the bench starts: what counts is the nearest one that is there. */
function refuseFolderOf(store: string): void {
  let folder = dirname(store);
  while (!existsSync(folder)) folder = dirname(folder);
  const refuse = (why: string): never => {
    throw inputError(store, '', `cannot be written: ${folder} ${why}; the store needs a folder in which this user may write`);
  };
  if (!statSync(folder).isDirectory()) refuse('is a file');
  try {
    accessSync(folder, constants.W_OK);
  } catch {
    refuse('may not be written by this user');
  }
}

/** A transducer that ends below what the plan speaks of cannot show it. */
export function rangeBelowPlan(bench: Bench, { plan: name, ...plan }: Plan): Problem[] {
  const { testPressure, ceilingPressure } = plan;
  const channel = judgedChannel(bench.channels, { plan: name, ...plan });
  if (channel === undefined) return [];
  const place = `channels.${bench.channels.indexOf(channel)}.range`;
  const upper = showQuantity(channel.range.upper, 'pressure');
  if (channel.range.upper < testPressure) return [{ place, text: `ends at ${upper}, below the test pressure of ${showQuantity(testPressure, 'pressure')} of the plan '${name}': no run can pass` }];
  if (ceilingPressure !== undefined && channel.range.upper < ceilingPressure) return [{ place, text: `ends at ${upper}, below the ceiling of ${showQuantity(ceilingPressure, 'pressure')} of the plan '${name}': what goes over the ceiling cannot be told` }];
  return [];
}
