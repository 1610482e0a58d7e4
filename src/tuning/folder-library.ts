import { existsSync, readdirSync } from 'node:fs';
import { join } from 'node:path';
import { importTrace } from '../core/import/import-trace.js';
import { feed, judge } from '../core/judge.js';
import { parsePlan } from '../core/plan.js';
import { inputError } from '../core/problems.js';
import type { CycleRecord } from '../core/reading/cycle-record.js';
import { RunReader } from '../core/run-reader.js';
import { parseThresholds, standardThresholds } from '../core/thresholds.js';
import type { Instrument, Trace } from '../core/trace.js';
import { readBytes } from '../files/input-file.js';
import { readYamlFile } from '../files/yaml-file.js';
import { noLabels } from '../records/run-labels.js';
import { knownTruth } from './known-truth.js';
import type { LibraryAddress, LibraryChoice, RecordedRun, RunKey, RunLibrary } from './run-library.js';

type FolderAddress = Extract<LibraryAddress, { kind: 'folder' }>;

/**
 * A folder of NAME.csv, each with NAME.plan.yaml, NAME.thresholds.yaml and NAME.truth.json where there is one: read as
 * `judge-many` reads it, a trace without a plan as `judge` does.
 */
export class FolderLibrary implements RunLibrary {
  private readonly names: readonly string[];

  /** @throws InputError where there is no such folder, or no trace in it */
  constructor(private readonly address: FolderAddress) {
    this.names = address.only === undefined ? namesIn(address.path).filter((name) => /\.csv$/i.test(name)).sort() : [address.only];
    if (this.names.length === 0) throw inputError(address.path, '', 'holds no trace; it should hold NAME.csv files with NAME.plan.yaml beside each');
  }

  keys(choice: LibraryChoice): readonly string[] {
    const unknown = (['numbers', 'hose', 'bench', 'since', 'until'] as const).find((key) => choice[key] !== undefined);
    if (unknown !== undefined) throw inputError(this.address.path, unknown, 'cannot be chosen by in a folder of traces, which does not say it; choose by plan, verdict or label');
    return this.names;
  }

  run(key: RunKey): RecordedRun {
    const { address } = this;
    const name = String(key);
    const beside = (kind: string): string | null => {
      const path = join(address.path, `${name.replace(/\.[^.]+$/, '')}.${kind}`);
      return existsSync(path) ? path : null;
    };
    const [planFile, thresholdsFile, truthFile] = [beside('plan.yaml'), beside('thresholds.yaml'), beside('truth.json')];
    const own = {
      plan: planFile === null ? null : readYamlFile(planFile).check(parsePlan),
      thresholds: thresholdsFile === null ? standardThresholds : readYamlFile(thresholdsFile).check(parseThresholds),
    };
    const known = truthFile === null ? null : knownTruth(Buffer.from(readBytes(truthFile)).toString('utf8'), truthFile);
    const instrument = address.instrument ?? (address.truthful ? (known?.instrument ?? null) : null);
    const path = join(address.path, name);
    const read = (): { trace: Trace; known: Instrument | undefined } => {
      const { trace, report } = importTrace(readBytes(path), path, address.options);
      // A truth file knows the gauge better than the last decimal that a logger happened to write.
      return { trace, known: instrument === null ? undefined : { ...(address.truthful && report.resolution !== null ? { resolution: report.resolution } : {}), ...instrument } };
    };
    return {
      key: name, name, bench: null, wall: null, hose: null,
      planName: own.plan?.plan ?? null,
      labels: known?.labels ?? noLabels,
      own, instrument, recorded: null, otherProgram: false,
      judge: (judgings) => {
        const { trace, known } = read();
        return judgings.map(({ plan, thresholds }) => judge(trace, plan, thresholds, known));
      },
      cycles: ({ plan, thresholds }) => {
        const { trace, known } = read();
        const cycles: CycleRecord[] = [];
        const nothing = (): void => undefined;
        const reader = new RunReader({ plan, thresholds, ...(known && { instrument: known }) }, { runStarted: nothing, found: nothing, runEnded: nothing, cyclesRead: (seen) => cycles.push(...seen) });
        feed(reader, trace);
        reader.end();
        return cycles;
      },
    };
  }

  close(): void {
    // Nothing is held open.
  }
}

function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException;
    throw inputError(folder, '', code === 'ENOENT' ? 'there is no such store or folder' : `cannot be read (${code ?? 'unknown'})`, error);
  }
}
