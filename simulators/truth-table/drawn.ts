import { judge } from '../../src/core/judge.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { drawnRun, storyNames } from '../drawn-courses/stories.js';

/** Judges so many drawn courses of each story. @returns lines to print, and whether something passed that must not */
export function drawnTable(each: number): { lines: string[]; falsePass: boolean } {
  const lines = [`${'story'.padEnd(32)}${'runs'.padStart(6)}${'right'.padStart(8)}${'false pass'.padStart(12)}`];
  const wrong: string[] = [];
  let [runs, right, passed] = [0, 0, 0];
  for (const story of storyNames) {
    let [good, bad] = [0, 0];
    for (let seed = 1; seed <= each; seed++) {
      const run = drawnRun(story, seed);
      const verdicts = judge(run.trace, run.plan, standardThresholds).map((o) => o.verdict);
      if (verdicts.length === 1 && verdicts[0] === run.verdict) good++;
      else wrong.push(`${story} seed ${seed}: ${verdicts.join(', ') || 'no run'}, in truth ${run.verdict}`);
      if (run.verdict !== 'pass' && verdicts.includes('pass')) bad++;
    }
    lines.push(`${story.padEnd(32)}${String(each).padStart(6)}${`${((100 * good) / each).toFixed(1)} %`.padStart(8)}${String(bad).padStart(12)}`);
    runs += each;
    right += good;
    passed += bad;
  }
  lines.push(`${'ALL'.padEnd(32)}${String(runs).padStart(6)}${`${((100 * right) / runs).toFixed(1)} %`.padStart(8)}${String(passed).padStart(12)}`);
  return { lines: [...lines, '', ...wrong], falsePass: passed > 0 };
}
