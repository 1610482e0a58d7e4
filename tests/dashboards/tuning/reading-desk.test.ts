import { describe, expect, it } from 'vitest';
import { ReadingClient, type Port } from '../../../dashboards/tuning/reading-client.js';
import { ReadingDesk } from '../../../dashboards/tuning/reading-desk.js';
import type { FromReader, LoadedRun, ReadTwice, ToReader } from '../../../dashboards/tuning/reading-messages.js';
import { judge } from '../../../src/core/judge.js';
import { notRecorded } from '../../../src/core/judging/not-recorded.js';
import { parseThresholds, standardThresholds, type Thresholds } from '../../../src/core/thresholds.js';
import { canonicalJson } from '../../../src/records/canonical-json.js';
import { runScenario } from '../../../simulators/run-scenario.js';

const live = runScenario('live-pass', 1);
const broken = runScenario('live-drop', 1);
const { thresholds } = live;
const impatient = parseThresholds({ settleTimeout: '1 s', settleSlope: '0.001 %/min', quietTime: '1 s', settleWindow: '2 s', runEnd: '2 s' }, '');

const loaded = (id: string, run = live, recorded: LoadedRun['recorded'] = null): LoadedRun => ({ id, trace: run.samples, plan: run.plan, own: thresholds, instrument: null, recorded });

function desk(): { readonly it: ReadingDesk; readonly said: FromReader[]; readonly run: () => void } {
  const said: FromReader[] = [];
  const it = new ReadingDesk((message) => said.push(message));
  return { it, said, run: () => { while (it.step()); } };
}
const verdicts = (said: readonly FromReader[]) => said.map((m) => (m.kind === 'failed' ? `${m.id}: ${m.sentence}` : `${m.kind} ${m.ticket} ${m.id}: ${m.change.after.verdict}`));

describe('the reading desk', () => {
  it('comes to what judge comes to, before and after', () => {
    const { it: reading, said, run } = desk();
    reading.take({ kind: 'hold', run: loaded('a') });
    reading.take({ kind: 'read', ticket: 1, id: 'a', thresholds: impatient });
    run();
    const [answer] = said;
    if (answer?.kind !== 'read') throw new Error('no reading');
    const judged = (by: Thresholds) => canonicalJson(judge(live.samples, live.plan, by));
    expect(canonicalJson(answer.before.map(({ outcome }) => outcome))).toBe(judged(thresholds));
    expect(canonicalJson(answer.after.map(({ outcome }) => outcome))).toBe(judged(impatient));
    expect(answer.change).toMatchObject({ concern: 'no longer decided', before: { verdict: 'pass' }, after: { verdict: 'inconclusive' } });
  });

  it('drops a reading that a newer one has overtaken, and reads what is shown before all others', () => {
    const { it: reading, said, run } = desk();
    for (const [id, what] of [['a', live], ['b', broken], ['c', live]] as const) reading.take({ kind: 'hold', run: loaded(id, what) });
    reading.take({ kind: 'sweep', ticket: 1, ids: ['a', 'b', 'c'], thresholds });
    reading.step();
    reading.take({ kind: 'read', ticket: 2, id: 'c', thresholds: impatient });
    reading.step();
    reading.take({ kind: 'read', ticket: 3, id: 'c', thresholds });
    run();
    expect(verdicts(said)).toEqual(['read 3 c: pass', 'swept 1 a: pass', 'swept 1 b: fail', 'swept 1 c: pass']);
    expect(said.flatMap((m) => (m.kind === 'swept' ? [[m.done, m.of]] : []))).toEqual([[1, 3], [2, 3], [3, 3]]);
  });

  it('stops a sweep, and begins anew where thresholds change meanwhile', () => {
    const { it: reading, said, run } = desk();
    reading.take({ kind: 'hold', run: loaded('a') });
    reading.take({ kind: 'sweep', ticket: 1, ids: ['a', 'a', 'a'], thresholds });
    while (said.length === 0) reading.step();
    reading.take({ kind: 'sweep', ticket: 2, ids: ['a'], thresholds: impatient });
    run();
    expect(verdicts(said)).toEqual(['swept 1 a: pass', 'swept 2 a: inconclusive']);
    reading.take({ kind: 'sweep', ticket: 3, ids: ['a', 'a', 'a'], thresholds });
    while (said.length < 3) reading.step();
    reading.take({ kind: 'stop-sweep' });
    run();
    expect(said.length).toBe(3);
  });

  it('says so for a run that it does not have', () => {
    const { it: reading, said, run } = desk();
    reading.take({ kind: 'hold', run: loaded('a') });
    reading.take({ kind: 'release', id: 'a' });
    reading.take({ kind: 'sweep', ticket: 1, ids: ['a', 'b'], thresholds });
    run();
    expect(verdicts(said)).toEqual(['a: This run is not loaded.', 'b: This run is not loaded.']);
  });

  it('judges a record that is not whole as strictly as it was judged, and tells where the record says otherwise', () => {
    const [outcome] = judge(live.samples, live.plan, thresholds);
    if (!outcome) throw new Error('no run');
    const at = { from: outcome.cycles[0]?.rising ?? 0, to: 1e6 };
    const { it: reading, said, run } = desk();
    reading.take({ kind: 'hold', run: loaded('whole', live, { ...at, outcome }) });
    reading.take({ kind: 'hold', run: loaded('torn', live, { ...at, outcome: notRecorded(outcome, 'the program was not running during a part of this run') }) });
    reading.take({ kind: 'hold', run: loaded('other', live, { ...at, outcome: { ...outcome, verdict: 'fail' } }) });
    for (const [ticket, id] of ['whole', 'torn', 'other'].entries()) {
      reading.take({ kind: 'read', ticket, id, thresholds });
      run();
    }
    const told = said as (ReadTwice & { kind: 'read' })[];
    expect(told.map(({ change }) => [change.before.verdict, change.after.verdict])).toEqual([['pass', 'pass'], ['inconclusive', 'inconclusive'], ['pass', 'pass']]);
    expect(told.map(({ unlikeRecord }) => unlikeRecord)).toEqual([null, null, "On record it is 'fail'; read again by this version with the same thresholds it is 'pass'."]);
  });

  it('finds no run of a record where the thresholds leave none', () => {
    const { it: reading, said, run } = desk();
    const [outcome] = judge(live.samples, live.plan, thresholds);
    if (!outcome) throw new Error('no run');
    reading.take({ kind: 'hold', run: loaded('a', live, { from: 0, to: 1e6, outcome }) });
    reading.take({ kind: 'read', ticket: 1, id: 'a', thresholds: { ...standardThresholds, attemptPressure: { kind: 'pressure', value: 9000 } } });
    run();
    expect(said[0]).toMatchObject({ kind: 'read', after: [], change: { after: { verdict: 'inconclusive', runs: 0 } } });
  });
});

describe("the page's side of it", () => {
  it('hears only answers to its newest orders', () => {
    const sent: ToReader[] = [];
    const port: Port = { postMessage: (message) => void sent.push(message), onmessage: null };
    const heard: string[] = [];
    const client = new ReadingClient(port, {
      read: ({ id }) => void heard.push(`read ${id}`),
      swept: (id, _change, done) => void heard.push(`swept ${id} ${done}`),
      failed: (id, sentence) => void heard.push(`${id} ${sentence}`),
    });
    const answer = (data: unknown) => port.onmessage?.({ data } as MessageEvent<FromReader>);
    client.read('a', { thresholds });
    client.read('b', { thresholds });
    client.sweep(['a'], { thresholds });
    client.sweep(['b'], { thresholds });
    expect(sent.map((m) => ('ticket' in m ? m.ticket : 0))).toEqual([1, 2, 3, 4]);
    answer({ kind: 'read', ticket: 1, id: 'a' });
    answer({ kind: 'read', ticket: 2, id: 'b' });
    answer({ kind: 'swept', ticket: 3, id: 'a', done: 1 });
    answer({ kind: 'swept', ticket: 4, id: 'b', done: 1 });
    answer({ kind: 'failed', ticket: 1, id: 'x', sentence: 'old' });
    answer({ kind: 'failed', ticket: 4, id: 'x', sentence: 'new' });
    client.stopSweep();
    answer({ kind: 'swept', ticket: 4, id: 'c', done: 2 });
    expect(heard).toEqual(['read b', 'swept b 1', 'x new']);
  });
});
