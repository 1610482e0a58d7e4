import { concatMap, defer, EMPTY, type Observable, type OperatorFunction } from 'rxjs';
import type { ReaderSetup } from '../core/run-reader.js';
import type { ReadingStretch } from '../core/reading-stretch.js';
import { RelayReader } from './relay-reader.js';
import type { NewsOptions, RunNews, TraceEntry } from './run-news.js';

/**
 * Like `readRuns` for a trace that goes on for months: fresh readers take over while nothing goes on, and the end of each
 * run tells what was read for it. A run that is open when the source completes is left open: it is not over.
 * @param lid the lid contact as it is known when reading begins
 */
export const relayRuns =
  (setup: ReaderSetup, options?: NewsOptions, lid: ReadingStretch['lid'] = null): OperatorFunction<TraceEntry, RunNews> =>
  (source: Observable<TraceEntry>) =>
    defer(() => {
      const reader = new RelayReader(setup, options, lid);
      return source.pipe(
        concatMap((entry) => {
          const news = reader.read(entry);
          return news.length === 0 ? EMPTY : news;
        }),
      );
    });
