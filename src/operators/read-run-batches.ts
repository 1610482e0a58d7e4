import { concat, concatMap, defer, EMPTY, of, type Observable, type OperatorFunction } from 'rxjs';
import type { ReaderSetup } from '../core/run-reader.js';
import { NewsReader, type NewsOptions, type RunNews, type TraceEntry } from './run-news.js';

/**
 * `readRuns` for entries that come many at a time (stored blocks, a whole recording): one list of news for each batch
 * that brought any. How the entries are cut into batches changes nothing in the news.
 */
export const readRunBatches =
  (setup: ReaderSetup, options?: NewsOptions): OperatorFunction<Iterable<TraceEntry>, readonly RunNews[]> =>
  (source: Observable<Iterable<TraceEntry>>) =>
    defer(() => {
      const reader = new NewsReader(setup, options);
      const told = () => {
        const news = reader.fetch();
        return news.length === 0 ? EMPTY : of(news);
      };
      return concat(
        source.pipe(
          concatMap((batch) => {
            for (const entry of batch) reader.read(entry);
            return told();
          }),
        ),
        defer(() => {
          reader.end();
          return told();
        }),
      );
    });
