import { z } from 'zod';
import { auditChoice, historyQuestion } from '../../history/history-question.js';
import { auditQuery } from '../audit-routes.js';
import { compareBody, sweepBody } from '../compare-routes.js';
import { runAddress } from '../desk-answers.js';
import { tuningQuery } from '../tuning-routes.js';
import { auditChain, auditPage } from './bench-shapes.js';
import { comparisonLine, sweepLine } from './comparison-shapes.js';
import { foundRuns, groups, runDetail, statistics, traceStretch } from './history-shapes.js';
import { number } from './outcome-shapes.js';
import type { Operation, Operations, Reply } from './operation.js';
import { tuningRun } from './run-shapes.js';

const run = runAddress.shape;

/** A question about the runs on record by its name. */
function asked(ask: string, does: string, reply: Reply, more: Partial<Operation> = {}): Operation {
  const query = historyQuestion.options.find(({ shape }) => shape.ask.value === ask);
  return {
    area: 'Runs on record', does, ...(query && { query }), without: ['ask', 'run', 'form'], ...more,
    answers: { 200: reply, 400: { words: 'Something in the query must be corrected; problems name it' }, 404: { words: 'No such run, or the records cannot be read' } },
  };
}

const lines = (words: string, shape: z.ZodType): Operation['answers'] => ({
  200: { words, shape, type: 'application/x-ndjson' }, 400: { words: 'Something in it must be corrected; problems name the fields' },
  429: { words: 'Too many comparisons are going on already' },
});
const streamed = 'A line of JSON for each thing, while the work goes on, `begin` or `progress` first and `end` last; `failed` in its place says what went wrong. Closing the connection stops the work.';

const changed = (does: string, reply: Reply, query?: z.ZodType): Operation => ({
  area: 'Who changed what', does, ...(query && { query }),
  answers: { 200: reply, 400: { words: 'Something in the query must be corrected; problems name it' }, 503: { words: 'The records cannot be read at this moment' } },
});

/** Runs that are over, recorded runs judged again, and who changed what. */
export const libraryOperations: Operations = {
  'GET /api/benches/:bench/history/runs': asked('runs', 'Finds runs, newest first', { words: 'Runs; ask again with before=NEXT for older ones', shape: foundRuns }),
  'GET /api/benches/:bench/history/runs.csv': asked('table', 'Gives the runs found as a table', { words: 'One line a run', type: 'text/csv' }),
  'GET /api/benches/:bench/history/runs/:run': asked('run', 'Tells all of a run but its trace', { words: 'The run', shape: runDetail }, { params: run }),
  'GET /api/benches/:bench/history/runs/:run/trace': asked('trace', 'Gives a stretch of the trace of a run for drawing', { words: 'The stretch', shape: traceStretch }, { params: run }),
  'GET /api/benches/:bench/history/groups': asked('groups', 'Counts runs by plan and hose', { words: 'Plans and hoses', shape: groups }),
  'GET /api/benches/:bench/history/statistics': asked('statistics', 'Statistics of one plan and hose', { words: 'Shares, distribution, control chart', shape: statistics }),
  'GET /api/benches/:bench/history/statistics.csv': asked('statistics', 'The points of these statistics as a table', { words: 'One line a run', type: 'text/csv' }),
  'GET /api/benches/:bench/audit': changed('Tells who changed what, newest first', { words: 'Entries; ask again with before=BEFORE for older ones', shape: auditPage }, auditQuery),
  'GET /api/benches/:bench/audit/chain': changed('Checks the chain of these entries', { words: 'What was found', shape: auditChain }),
  'GET /api/benches/:bench/audit.csv': changed('Gives the entries found as a table', { words: 'One line an entry', type: 'text/csv' }, z.strictObject(auditChoice)),
  'GET /api/benches/:bench/tuning/runs': {
    area: 'Tuning', does: 'Lists recorded runs to be read again, newest first', query: tuningQuery,
    answers: { 200: { words: 'Runs; ask again with before=MORE', shape: z.object({ runs: z.array(tuningRun), more: number.nullable() }) }, 400: { words: 'Something in the query must be corrected' } },
  },
  'GET /api/benches/:bench/tuning/runs/:run': {
    area: 'Tuning', does: 'Gives everything that judging a run needs: readings, plan, thresholds, marks', params: run,
    more: 'Little-endian. First `DKRUN1` in ASCII, two bytes 0, the length of a JSON text (uint32), four bytes 0, the text in UTF-8. Then pieces: number n of samples (uint32), four bytes 0, n times in s (float64), n pressures in bar (float64, NaN for a missing one), n flags (uint8).',
    answers: { 200: { words: 'The run', type: 'application/octet-stream' }, 404: { words: 'No such run, it is still going on, or its readings were given up to keep room' } },
  },
  'POST /api/benches/:bench/compare': {
    area: 'Tuning', does: 'Judges recorded runs again with other thresholds, another plan or both, and tells which come out otherwise', more: `${streamed} Texts are YAML as in the files.`, body: compareBody,
    answers: lines('Runs that come out otherwise, and the sum of it', comparisonLine),
  },
  'POST /api/benches/:bench/sweep': {
    area: 'Tuning', does: 'Shows the trade-off over the values of one or two thresholds, by labelled runs', more: streamed, body: sweepBody,
    answers: lines('Progress, and the table', sweepLine),
  },
};
