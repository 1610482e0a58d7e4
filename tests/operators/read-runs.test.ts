import fc from 'fast-check';
import {
  concat, concatMap, delay, EMPTY, from, lastValueFrom, map, of, Subject, throwError, toArray, VirtualTimeScheduler, type OperatorFunction,
} from 'rxjs';
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { RunReader, type ReaderSetup } from '../../src/core/run-reader.js';
import { traceOf } from '../../src/core/trace.js';
import { finishedRuns } from '../../src/operators/finished-runs.js';
import { readRunBatches } from '../../src/operators/read-run-batches.js';
import { readRuns } from '../../src/operators/read-runs.js';
import type { RunNews, TraceEntry } from '../../src/operators/run-news.js';
import { entriesOf, marks, setup, twoRuns } from './bench-trace.js';

const samples = twoRuns();
const entries = entriesOf(samples, marks);
const json = (news: readonly RunNews[]) => JSON.stringify(news);

/** What the reader itself says, without RxJS: the standard that every way of feeding it is held against. */
function byHand(): RunNews[] {
  const news: RunNews[] = [];
  const reader = new RunReader(setup, {
    runStarted: (at) => news.push({ type: 'run-started', at }),
    found: (event) => news.push({ type: 'event', event }),
    runEnded: (run) => news.push({ type: 'run-ended', run }),
  });
  for (const entry of entries) {
    if ('kind' in entry) reader.mark(entry);
    else reader.step(entry.time, entry.pressure, entry.flags);
  }
  reader.end();
  return news;
}
const expected = byHand();

describe('the bench trace of these tests', () => {
  it('holds two runs that end differently, and events', () => {
    const runs = expected.filter((item) => item.type === 'run-ended').map(({ run }) => run.outcome.verdict);
    expect(runs).toEqual(['pass', 'fail']);
    expect(expected.filter((item) => item.type === 'run-started')).toHaveLength(2);
    expect(expected.filter((item) => item.type === 'event').length).toBeGreaterThan(0);
  });
});

describe('reading the same samples in four ways', () => {
  it('live, at the pace of their own times', () => {
    const scheduler = new VirtualTimeScheduler();
    const heard: RunNews[] = [];
    let before = 0;
    from(entries)
      .pipe(
        concatMap((entry) => {
          const wait = Math.max(0, entry.time - before) * 1000;
          before = entry.time;
          return of(entry).pipe(delay(wait, scheduler));
        }),
        readRuns(setup),
      )
      .subscribe((item) => heard.push(item));
    scheduler.flush();
    expect(json(heard)).toBe(json(expected));
  });

  it('as a replay, sample by sample', async () => {
    expect(json(await lastValueFrom(from(entries).pipe(readRuns(setup), toArray())))).toBe(json(expected));
  });

  it('in batches of any sizes, empty ones among them', () => {
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 700 }), { minLength: 1, maxLength: 40 }), (sizes) => {
        const batches: TraceEntry[][] = [[]];
        for (let start = 0, i = 0; start < entries.length; i++) {
          const size = sizes[i % sizes.length] ?? 1;
          batches.push(entries.slice(start, start + size), []);
          start += size;
        }
        const heard: RunNews[] = [];
        from(batches).pipe(readRunBatches(setup)).subscribe((news) => heard.push(...news));
        expect(json(heard)).toBe(json(expected));
      }),
      { numRuns: 20 },
    );
  });

  it('and by judge, which gives the same outcomes', async () => {
    const trace = { ...traceOf(samples.map((s) => s.time), samples.map((s) => s.pressure), samples.map((s) => s.flags)), marks };
    const runs = await lastValueFrom(from(entries).pipe(readRuns(setup), finishedRuns, toArray()));
    expect(JSON.stringify(runs.map((run) => run.outcome))).toBe(JSON.stringify(judge(trace, setup.plan, setup.thresholds)));
  });
});

describe('views', () => {
  it('come by sample time, and with each event or run, so that a replay gives the same ones', async () => {
    const withViews = () => lastValueFrom(from(entries).pipe(readRuns(setup, { viewEvery: 0.5 }), toArray()));
    const news = await withViews();
    expect(json(await withViews())).toBe(json(news));
    expect(json(news.filter((item) => item.type !== 'view'))).toBe(json(expected));
    const views = news.flatMap((item) => (item.type === 'view' ? [item.view] : []));
    expect(views.length).toBeGreaterThan(60);
    expect(new Set(views.map((view) => view.phase))).toEqual(new Set(['vented', 'rising', 'settling', 'holding', 'venting']));
    expect(views.at(-1)?.verdict).toBe('fail');
  });
});

/** Both forms under one type, so that one checklist serves both. */
const forms: readonly (readonly [string, (setup: ReaderSetup) => OperatorFunction<TraceEntry, RunNews>])[] = [
  ['sample by sample', (with_) => readRuns(with_)],
  ['in batches', (with_) => (source) => source.pipe(map((entry) => [entry]), readRunBatches(with_), concatMap((news) => news))],
];

describe.each(forms)('as an operator, %s', (_name, operator) => {
  it('an empty source gives no run', () => {
    const heard: RunNews[] = [];
    let complete = false;
    EMPTY.pipe(operator(setup)).subscribe({ next: (item) => heard.push(item), complete: () => (complete = true) });
    expect(heard).toEqual([]);
    expect(complete).toBe(true);
  });

  it('an error of the source passes on, and the open run is not judged', () => {
    const heard: RunNews[] = [];
    let error: unknown;
    concat(from(entries.slice(0, 700)), throwError(() => new Error('cable pulled')))
      .pipe(operator(setup))
      .subscribe({ next: (item) => heard.push(item), error: (e: unknown) => (error = e) });
    expect(error).toEqual(new Error('cable pulled'));
    expect(heard.some((item) => item.type === 'run-started')).toBe(true);
    expect(heard.some((item) => item.type === 'run-ended')).toBe(false);
  });

  it('a throw in the reader becomes an error of the stream', () => {
    const broken: ReaderSetup = {
      plan: null,
      get thresholds(): never {
        throw new Error('no thresholds');
      },
    };
    let error: unknown;
    from(entries).pipe(operator(broken)).subscribe({ error: (e: unknown) => (error = e) });
    expect(error).toEqual(new Error('no thresholds'));
  });

  it('unsubscribing stops the source', () => {
    const source = new Subject<TraceEntry>();
    const subscription = source.pipe(operator(setup)).subscribe();
    expect(source.observed).toBe(true);
    subscription.unsubscribe();
    expect(source.observed).toBe(false);
  });

  it('two subscribers each have a reader of their own', () => {
    const source = new Subject<TraceEntry>();
    const stream = source.pipe(operator(setup));
    const heard: [RunNews[], RunNews[]] = [[], []];
    for (const list of heard) stream.subscribe((item) => list.push(item));
    for (const entry of entries) source.next(entry);
    source.complete();
    expect(json(heard[0])).toBe(json(expected));
    expect(json(heard[1])).toBe(json(expected));
  });
});
