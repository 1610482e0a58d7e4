import { concat, concatMap, defer, EMPTY, type Observable, type OperatorFunction } from 'rxjs';
import type { ReaderSetup } from '../core/run-reader.js';
import { NewsReader, type NewsOptions, type RunNews, type TraceEntry } from './run-news.js';

/**
 * Samples and marks in; runs, events and (if asked for) views out, in the order of their finding. Each subscriber has
 * a reader of its own that starts afresh. When the source completes, the open run is judged as it stands; when it
 * errors, the error passes on and nothing is judged. A throw in the reader becomes an error of the stream.
 */
export const readRuns =
  (setup: ReaderSetup, options?: NewsOptions): OperatorFunction<TraceEntry, RunNews> =>
  (source: Observable<TraceEntry>) =>
    defer(() => {
      const reader = new NewsReader(setup, options);
      const told = () => {
        const news = reader.fetch();
        return news.length === 0 ? EMPTY : news;
      };
      return concat(
        source.pipe(
          concatMap((entry) => {
            reader.read(entry);
            return told();
          }),
        ),
        defer(() => {
          reader.end();
          return told();
        }),
      );
    });
