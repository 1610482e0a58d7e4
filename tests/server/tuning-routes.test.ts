import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { ReadingInDetail } from '../../src/core/reading-in-detail.js';
import { canonicalJson } from '../../src/records/canonical-json.js';
import { HttpServer } from '../../src/server/http-server.js';
import { headBytes, openParcel, pieceBytes, traceOfParcel, type ParcelHead } from '../../src/server/run-parcel.js';
import { tuningRoutes, type TuningRun } from '../../src/server/tuning-routes.js';
import { HandBench, judgingBy } from '../daemon/hand-bench.js';

let bench: HandBench;
let server: HttpServer;
beforeEach(async () => {
  bench = new HandBench(judgingBy({ maximumDrop: '3 %' }));
  const pages = join(bench.folder, 'pages');
  mkdirSync(join(pages, 'live'), { recursive: true });
  writeFileSync(join(pages, 'live', 'index.html'), '<!doctype html>');
  server = await HttpServer.start({ benches: [bench.daemon.feed], pages, routes: (app) => tuningRoutes(app, [{ bench: 'north bench', get records() { return bench.daemon.records; } }, { bench: 'shut bench', records: null }]) });
  bench.daemon.start();
});
afterEach(async () => {
  await server.close();
  bench.clear();
});

const ask = (path: string): Promise<Response> => fetch(`${server.address}/api/benches/${path}`);
const list = async (query = ''): Promise<{ runs: TuningRun[]; more: number | null }> => (await ask(`north%20bench/tuning/runs${query}`)).json() as Promise<{ runs: TuningRun[]; more: number | null }>;

describe('recorded runs for the page for tuning', () => {
  it('are listed, the newest first, page by page', async () => {
    for (let i = 0; i < 3; i++) bench.goodRun(8);
    const { runs, more } = await list();
    expect(runs.map(({ run, verdict, plan, readable, truth }) => [run, verdict, plan, readable, truth])).toEqual([3, 2, 1].map((run) => [run, 'pass', 'short proof', true, null]));
    expect(more).toBeNull();
    const first = await list('?limit=2');
    expect(first.runs.map(({ run }) => run)).toEqual([3, 2]);
    const rest = await list(`?limit=2&before=${first.more}`);
    expect(rest.runs.map(({ run }) => run)).toEqual([1]);
  });

  it('come whole: judged again from the parcel the outcome is that on record, byte for byte', async () => {
    bench.goodRun(8);
    const answer = await ask('north%20bench/tuning/runs/1');
    expect(answer.headers.get('content-type')).toBe('application/octet-stream');
    const parcel = openParcel(new Uint8Array(await answer.arrayBuffer()));
    const { plan, thresholds, instrument, outcome } = parcel.head;
    const reading = new ReadingInDetail(traceOfParcel(parcel), { plan, thresholds, instrument: instrument ?? undefined, recorded: true });
    while (!reading.read(100));
    expect(canonicalJson(reading.found.map((run) => run.outcome))).toBe(canonicalJson([outcome]));
    expect(canonicalJson(outcome)).toBe(bench.stored((store) => canonicalJson(store.getRun(1)?.outcome)));
  });

  it.each([
    ['north%20bench/tuning/runs/7', 404, 'run 7: there is no such run'],
    ['north%20bench/tuning/runs/x', 404, 'run: should be the number of a run'],
    ['south%20bench/tuning/runs', 404, 'no bench of that name is running here'],
    ['shut%20bench/tuning/runs', 404, 'records: cannot be opened at the moment'],
    ['north%20bench/tuning/runs?limit=9999', 400, 'limit should be 1 to 200'],
  ])('%s: %d, %s', async (path, status, sentence) => {
    const answer = await ask(path);
    expect(answer.status).toBe(status);
    expect(((await answer.json()) as { error: string }).error).toContain(sentence);
  });

  it('that are still going on are not listed and not given', async () => {
    bench.ramp(0, 0, 2);
    bench.ramp(0, 560, 10);
    bench.ramp(560, 552, 2);
    expect(bench.daemon.feed.runSince()).not.toBeNull();
    expect((await list()).runs).toEqual([]);
    expect((await ask('north%20bench/tuning/runs/1')).status).toBe(404);
  });
});

describe('a parcel', () => {
  const head = { run: 3, marks: [{ time: 1, kind: 'doubt', text: 'ü' }], reading: { from: 0, to: 5, lid: 'closed' } } as unknown as ParcelHead;
  const piece = (values: readonly number[]) => pieceBytes({ time: Float64Array.from(values), pressure: Float64Array.from(values, (v) => v * 10), flags: Uint8Array.from(values, () => 2) });
  const joined = (...parts: Uint8Array[]) => new Uint8Array(Buffer.concat(parts));

  it('gives back what was put in, in one run, missing readings too', () => {
    const opened = openParcel(joined(headBytes(head), piece([1, 2.5]), piece([]), piece([3, NaN])));
    expect(opened.head).toEqual(head);
    expect([...opened.samples.time]).toEqual([1, 2.5, 3, NaN]);
    expect([...opened.samples.pressure]).toEqual([10, 25, 30, NaN]);
    expect([...opened.samples.flags]).toEqual([2, 2, 2, 2]);
    expect(traceOfParcel(opened).marks).toEqual([{ time: 0, kind: 'lid-closed' }, ...head.marks]);
  });

  it('that was cut off is refused wherever the cut is', () => {
    const whole = joined(headBytes(head), piece([1, 2]));
    const ends = headBytes(head).length;
    for (let length = 0; length < whole.length; length++) {
      if (length === ends) expect(openParcel(whole.subarray(0, length)).samples.time.length).toBe(0);
      else expect(() => openParcel(whole.subarray(0, length))).toThrow();
    }
    expect(() => openParcel(new TextEncoder().encode('{"error":"something went wrong"}'))).toThrow('no recorded run');
  });
});
