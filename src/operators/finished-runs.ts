import { filter, map, type OperatorFunction } from 'rxjs';
import type { FinishedRun } from '../core/run-reader.js';
import type { RunNews } from './run-news.js';

/** Of all news only the runs that are over. */
export const finishedRuns: OperatorFunction<RunNews, FinishedRun> = (news) =>
  news.pipe(
    filter((item) => item.type === 'run-ended'),
    map((item) => item.run),
  );
