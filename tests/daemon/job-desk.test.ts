import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { documentMaker } from '../../src/certificate/document-maker.js';
import { deskOf } from '../../src/daemon/desk-of.js';
import type { JobDesk } from '../../src/daemon/job-desk.js';
import { parseJob } from '../../src/records/job.js';
import type { Entry } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { shop } from '../certificate/tested-bench.js';
import { HandBench } from './hand-bench.js';

let bench: HandBench;
let desk: JobDesk;
const doe = { who: 'J. Doe' };
const job = parseJob({ order: '4711', assemblies: 'A17-001..002', operator: 'J. Doe' });

const sitDown = () => (desk = deskOf(bench.daemon, documentMaker({ store: join(bench.folder, 'records.sqlite'), software: 'test', shop }), shop.zone, () => bench.at.wall));

beforeEach(() => {
  bench = new HandBench();
  sitDown();
  bench.daemon.start();
  bench.ramp(0, 0, 2);
});
afterEach(() => bench.clear());

const jobsOf = (run: number) => bench.stored((store) => store.entriesOf(run).filter(({ entry }) => entry.kind === 'job'));

describe('the job of a run', () => {
  it('waits for the next run, becomes its sealed entry, and does not stay for the one after', () => {
    desk.keyIn(job, doe);
    expect(desk.jobs()).toEqual({ waiting: { job, who: 'J. Doe' }, present: null, last: null });
    bench.goodRun();
    expect(desk.jobs()).toEqual({ waiting: null, present: null, last: { run: 1, job } });
    bench.goodRun();
    expect(jobsOf(1)).toMatchObject([{ who: 'J. Doe', why: null, entry: { kind: 'job', order: '4711', assemblies: ['A17-001', 'A17-002'] } }]);
    expect(jobsOf(2)).toEqual([]);
    bench.daemon.stop();
    expect(bench.stored((store) => verifyLedger(store))).toMatchObject({ intact: true, records: 3 });
  });

  it('keyed in during the run belongs to it, and survives the program in mid-run', () => {
    bench.ramp(0, 560, 10);
    bench.ramp(560, 552, 2);
    expect(desk.jobs().present).toEqual({ run: 1, job: null });
    desk.keyIn(job, doe);
    expect(desk.jobs().present).toEqual({ run: 1, job });
    bench.daemon.stop();
    bench.wait(5);
    bench.restart();
    sitDown();
    expect(desk.jobs().present).toEqual({ run: 1, job });
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    expect(desk.jobs()).toMatchObject({ waiting: null, present: null, last: { run: 1, job } });
    expect(jobsOf(1)).toHaveLength(1);
  });

  it('waits over a new start of the program, too', () => {
    desk.keyIn(job, doe);
    bench.daemon.stop();
    bench.daemon = bench.restart();
    sitDown();
    expect(desk.jobs().waiting).toEqual({ job, who: 'J. Doe' });
    bench.ramp(0, 0, 2);
    bench.goodRun();
    expect(desk.jobs().last).toEqual({ run: 1, job });
  });

  it('the same again in one touch, put aside, and a retest tied to its run', () => {
    expect(() => desk.sameAgain(doe)).toThrow('north bench: job: no run has a job yet; key the first one in');
    desk.keyIn(job, doe);
    bench.goodRun();
    expect(desk.sameAgain(doe).waiting).toEqual({ job, who: 'J. Doe' });
    expect(desk.putAside('J. Doe').waiting).toBeNull();
    expect(desk.retest(1, 'a17-002', doe).waiting?.job).toEqual({ ...job, assemblies: ['A17-002'], retestOf: 1 });
    expect(() => desk.retest(1, 'B9', doe)).toThrow("run 1: retest: 'B9' is not on it");
    bench.goodRun();
    expect(desk.about(2).job).toMatchObject({ retestOf: 1, assemblies: ['A17-002'] });
  });
});

describe('what is said about a run', () => {
  it('is appended, needs its reason when it changes something, and never before the run is over', async () => {
    desk.keyIn(job, doe);
    bench.ramp(0, 560, 10);
    expect(() => desk.say(1, { kind: 'visual-finding', finding: 'no leakage seen' }, doe)).toThrow('run 1: finding: the run is still going on; look at the assemblies once the bench is vented');
    expect(() => desk.retest(1, 'A17-001', doe)).toThrow('a run is going on');
    bench.ramp(560, 552, 2);
    bench.ramp(552, 552, 10);
    bench.ramp(552, 0, 1);
    bench.ramp(0, 0, 8);
    expect(desk.about(1)).toMatchObject({ verdict: 'pass', result: 'pass', visual: null });
    expect(desk.say(1, { kind: 'visual-finding', finding: 'no leakage seen' }, doe)).toMatchObject({ result: 'pass', visual: 'no leakage seen' });
    const leak: Extract<Entry, { kind: 'visual-finding' }> = { kind: 'visual-finding', finding: 'leakage seen', leaks: [{ assembly: 'A17-002', at: 'crimp' }] };
    expect(() => desk.say(1, leak, doe)).toThrow('run 1: why: is empty; there is a visual finding already, and a change needs its reason');
    expect(() => desk.say(1, { ...leak, leaks: [{ assembly: 'A17-007' }] }, { ...doe, why: 'x' })).toThrow("run 1: leaks: 'A17-007' is no assembly of this run; did you mean 'A17-001'?");
    expect(() => desk.say(1, { kind: 'visual-finding', finding: 'leakage seen' }, { ...doe, why: 'x' })).toThrow("run 1: at: is empty; say where the leakage was seen");
    const after = desk.say(1, leak, { ...doe, why: 'second look' });
    expect(after).toMatchObject({ verdict: 'pass', result: 'fail', visual: 'leakage seen at A17-002 (crimp)', document: { kind: 'report' } });
    expect(after.said.map(({ kind, words, why }) => [kind, words, why])).toEqual([
      ['job', '4711, A17-001, A17-002', null], ['visual-finding', 'no leakage seen', null], ['visual-finding', 'leakage seen at A17-002 (crimp)', 'second look'],
    ]);
    expect(bench.daemon.feed.recentRuns(1)[0]).toMatchObject({ verdict: 'pass', visual: 'leakage seen at A17-002 (crimp)' });
    expect((await desk.documents.make({ kind: 'certificate', run: 1 })).name).toMatch(/^report-1-\d+\.pdf$/);
    expect(() => desk.about(7)).toThrow('run 7: there is no such run');
  });
});
