import type { StoreReader } from '../records/store-reader.js';
import { auditChain, auditTable } from './audit-pages.js';
import { findRuns } from './find-runs.js';
import type { HistoryAnswer, HistoryQuestion } from './history-question.js';
import { runDetail } from './run-detail.js';
import { runsTable } from './runs-table.js';
import { groups, statistics } from './statistics.js';
import { statisticsTable } from './statistics-table.js';
import { traceStretch } from './trace-stretch.js';

const json = (value: object): HistoryAnswer => ({ type: 'application/json; charset=utf-8', body: JSON.stringify(value) });
const csv = (body: string, name: string): HistoryAnswer => ({ type: 'text/csv; charset=utf-8', body, name });

/** Answers a question about the runs of a bench, or about what was changed at it. Reads only. @throws InputError */
export function answerQuestion(store: StoreReader, bench: string, question: HistoryQuestion): HistoryAnswer {
  switch (question.ask) {
    case 'runs':
      return json(findRuns(store, bench, question));
    case 'table':
      return csv(runsTable(store, bench, question), 'runs.csv');
    case 'run':
      return json(runDetail(store, bench, question.run));
    case 'trace':
      return json(traceStretch(store, bench, question));
    case 'groups':
      return json(groups(store, bench, question));
    case 'statistics': {
      const found = statistics(store, bench, question);
      return question.form === 'csv' ? csv(statisticsTable(found), `${question.measure}.csv`) : json(found);
    }
    case 'audit-table':
      return csv(auditTable(store, question), 'changes.csv');
    case 'audit-chain':
      return json(auditChain(store));
  }
}
