import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { judge } from '../../src/core/judge.js';
import { parseThresholds, type Thresholds } from '../../src/core/thresholds.js';
import { proposeThresholds, type ProposalReport } from '../../src/tuning/propose.js';
import type { ThresholdKey } from '../../src/tuning/written-thresholds.js';
import { writeRuns } from '../../simulators/run-files.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { compare, type Comparison } from '../../simulators/truth-table/compare.js';
import { figuresOf, type Figures } from '../../simulators/truth-table/table.js';

/** Families and seeds that runs are made of. */
export interface Part {
  readonly families: readonly string[];
  readonly seeds: readonly number[];
}

export interface Proof {
  readonly report: ProposalReport;
  /** On runs that were not tuned on, part by part: as it was, as tuned, and by thresholds known to be good. */
  readonly unseen: readonly { readonly part: string; readonly poor: Figures; readonly tuned: Figures; readonly good: Figures; readonly runs: { readonly tuned: readonly Comparison[]; readonly good: readonly Comparison[] } }[];
}

export interface ProofSettings {
  readonly train: Part;
  readonly unseen: Readonly<Record<string, Part>>;
  /** Where tuning begins, as in a thresholds file. */
  readonly poor: Readonly<Record<string, unknown>>;
  readonly good?: Readonly<Record<string, unknown>>;
  readonly keys?: readonly ThresholdKey[];
  readonly rounds?: number;
  readonly standard?: boolean;
  readonly threads?: number;
  readonly progress?: (what: string, done: number, total: number) => void;
}

/** Tunes from poor thresholds on labelled runs of the simulator, and judges runs that it has not seen by what came of it. */
export async function proofOfTuning({ train, unseen, poor, good = {}, threads = 0, progress = () => undefined, ...options }: ProofSettings): Promise<Proof> {
  const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-tune-'));
  try {
    await writeRuns(folder, train.families, Math.max(...train.seeds));
    const [base, aim] = [parseThresholds(poor, 'poor'), parseThresholds(good, 'good')];
    const report = await proposeThresholds({ kind: 'folder', path: folder, options: {}, truthful: true }, { ...options, base, threads, progress: (done, total) => progress('tuning', done, total) });
    const parts = Object.entries(unseen).map(([part, { families, seeds }]) => {
      const found = { poor: [] as Comparison[], tuned: [] as Comparison[], good: [] as Comparison[] };
      families.forEach((name, i) => {
        for (const seed of seeds) {
          const run = runScenario(name, seed);
          const by = (thresholds: Thresholds): Comparison => compare(`${name} seed ${seed}`, judge(run.samples, run.plan, thresholds, run.setup.instrument), run.truth, run.plan);
          found.poor.push(by(base));
          found.tuned.push(by(report.thresholds));
          found.good.push(by(aim));
        }
        progress(part, i + 1, families.length);
      });
      return { part, poor: figuresOf(found.poor), tuned: figuresOf(found.tuned), good: figuresOf(found.good), runs: found };
    });
    return { report, unseen: parts };
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
