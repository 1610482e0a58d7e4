import { tableCsv } from '../records/export-csv.js';
import { runStory } from '../records/run-story.js';
import type { StoreReader } from '../records/store-reader.js';
import { visualWords } from '../records/visual-finding.js';
import { sentenceOnRunClock } from './run-clock.js';

const header = [
  'run', 'bench', 'from', 'to', 'order', 'customer', 'assemblies', 'operator', 'result', 'visual', 'plan', 'rule', 'outcome', 'measured', 'limit', 'uncertainty', 'unit', 'at_s', 'sentence',
];

/** The findings of a run for a spreadsheet, a line each; `at_s` and the moments in sentences count from the start of the run. @throws InputError */
export function recordCsv(store: StoreReader, number: number): string {
  const { run, job, visual, judgement, result } = runStory(store, number);
  const wall = (ms: number | null) => (ms === null ? null : new Date(ms).toISOString());
  const of = [
    number, run.bench, wall(run.fromWall), wall(run.toWall), job?.order ?? null, job?.customer ?? null, (job?.assemblies ?? []).join(' '), job?.operator ?? null, result,
    visual === null ? null : visualWords(visual), judgement.outcome.plan,
  ];
  const rows = judgement.outcome.findings.map(({ rule, outcome, measured, limit, uncertainty, unit, at, sentence }) => [
    ...of, rule, outcome, measured, limit, uncertainty, unit, at === null ? null : Number((at - run.from).toFixed(6)), sentenceOnRunClock(sentence, run.from, run.to ?? run.from),
  ]);
  return tableCsv(header, rows);
}
