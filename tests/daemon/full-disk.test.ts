import { join } from 'node:path';
import { describe, expect, it, onTestFinished } from 'vitest';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { HandBench, judgingBy } from './hand-bench.js';
import { SmallDisk } from './small-disk.js';

/** A daemon whose store lies on a small disk. */
function benchOn<Disk extends SmallDisk>(disk: Disk, settings: { readonly waitingLimit?: number } = {}): { bench: HandBench; disk: Disk } {
  const bench = new HandBench(judgingBy(), {}, 'dwellkeeper test', settings, disk.folder);
  onTestFinished(() => bench.clear());
  bench.daemon.start();
  bench.ramp(0, 0, 2);
  tick(bench);
  return { bench, disk };
}

const tick = (bench: HandBench): void => bench.daemon['tick']();
const stored = (bench: HandBench) => bench.stored((store) => store.traceWindow(1, -Infinity, Infinity));

/** The whole trace, sealed and sound. */
function expectSound(bench: HandBench): void {
  bench.stored((store) => {
    expect(verifyLedger(store).breaches).toEqual([]);
    expect(store.db.pragma('integrity_check', { simple: true })).toBe('ok');
  });
}

// FC-26 (b)
describe('a disk that is really full', () => {
  it('judging and display go on, an alarm is shown, nothing passes; all is written once there is room, and then it may', () => {
    const { bench, disk } = benchOn(SmallDisk.inMemory(4_000_000));
    const { feed } = bench.daemon;
    const before = stored(bench).time.length;
    disk.fill();
    bench.goodRun();
    tick(bench);
    expect(feed.health().recording).toBe(false);
    expect(feed.health().notices[0]).toMatchObject({ weight: 'alarm', text: expect.stringMatching(/^not recording: the disk is full/) as string });
    expect(feed.health().dataAge).toBeCloseTo(0, 3);
    expect(feed.view().pressure).not.toBeNull();
    expect(feed.recentRuns(5)).toMatchObject([{ id: 'waiting-1', verdict: 'inconclusive' }]);
    expect(feed.envelope({ from: -Infinity, to: Infinity }, 100)?.samples).toBe(feed.newest() + 1);
    // The file holds what was acknowledged before, and can be read beside the daemon meanwhile.
    expect(stored(bench).time.length).toBe(before);
    expectSound(bench);
    disk.free();
    bench.ramp(0, 0, 11);
    tick(bench);
    tick(bench);
    expect(feed.health()).toMatchObject({ recording: true, notices: [] });
    expect(feed.recentRuns(5)).toMatchObject([{ id: '1', verdict: 'pass' }]);
    const heard = feed.newest() + 1;
    bench.daemon.stop();
    const { time, marks } = stored(bench);
    expect(time.length).toBe(heard);
    expect(marks.map(({ kind }) => kind)).toEqual(['signal-lost']); // the end of the program, and no gap before it
    expectSound(bench);
  });

  it('again and again: it resumes each time', () => {
    const { bench, disk } = benchOn(SmallDisk.inMemory(4_000_000));
    for (let round = 0; round < 5; round++) {
      disk.fill();
      bench.ramp(0, 0, 5);
      tick(bench);
      expect(bench.daemon.feed.health().recording).toBe(false);
      disk.free();
      tick(bench);
      expect(bench.daemon.feed.health().recording).toBe(true);
    }
    const heard = bench.daemon.feed.newest() + 1;
    bench.daemon.stop();
    expect(stored(bench).time.length).toBe(heard);
    expectSound(bench);
  });

  it('for so long that memory may not hold it all: the oldest go, the gap is marked, and the run in it cannot pass', () => {
    const limit = 300;
    const { bench, disk } = benchOn(SmallDisk.inMemory(4_000_000), { waitingLimit: limit });
    disk.fill();
    bench.goodRun();
    tick(bench);
    const writer = [...(bench.daemon.records?.['recording']['writers'].values() ?? [])][0];
    expect(writer?.trouble).toMatchObject({ code: 'disk-full' });
    expect(writer?.trouble?.waiting).toBeLessThanOrEqual(limit);
    const lost = writer?.trouble?.lost ?? 0;
    expect(lost).toBeGreaterThan(0);
    disk.free();
    tick(bench);
    tick(bench);
    expect(bench.daemon.feed.recentRuns(5)).toMatchObject([{ id: '1', verdict: 'inconclusive' }]);
    expect(bench.daemon.feed.recentRuns(1)[0]?.reasons.join(' ')).toContain(`${lost} samples could not be recorded`);
    const heard = bench.daemon.feed.newest() + 1;
    bench.daemon.stop();
    const { time, marks } = stored(bench);
    expect(time.length).toBe(heard - lost);
    const [from, to] = marks;
    expect([from?.kind, to?.kind, from?.text]).toEqual(['signal-lost', 'signal-back', `${lost} samples could not be stored`]);
    // The gap lies where the samples are missing, and nowhere else is one.
    const spaces = [...time].slice(1).flatMap((t, i) => (t - time[i]! > 0.2 ? [[time[i]!, t]] : []));
    expect(spaces).toHaveLength(1);
    expect(from?.time).toBeGreaterThanOrEqual(spaces[0]![0]!);
    expect(to?.time).toBeLessThanOrEqual(spaces[0]![1]!);
    expectSound(bench);
  });

  it('is told of before: a warning while there still is room', () => {
    const { bench, disk } = benchOn(SmallDisk.inMemory(4_000_000));
    const notices = () => bench.daemon.feed.health().notices.map(({ weight, text }) => `${weight}: ${text}`);
    expect(notices()).toEqual([]);
    disk.fill(600_000);
    bench.ramp(0, 0, 11);
    tick(bench);
    expect(notices()).toEqual([expect.stringMatching(/^warning: only \d+(\.\d+)? MB free where the records are kept; make room before it is full/)]);
    expect(bench.daemon.feed.health().recording).toBe(true);
    disk.free();
    bench.ramp(0, 0, 11);
    tick(bench);
    expect(notices()).toEqual([]);
  });

  it('when the program is started: it says what is wrong and changes nothing', () => {
    const { bench, disk } = benchOn(SmallDisk.inMemory(4_000_000));
    bench.daemon.stop();
    const before = stored(bench).time.length;
    disk.fill();
    expect(() => bench.restart()).toThrow(/records\.sqlite: the disk is full; make room where the records are kept, then start again$/);
    disk.free();
    bench.restart();
    bench.ramp(0, 0, 2);
    tick(bench);
    expect(bench.daemon.feed.health().recording).toBe(true);
    expect(stored(bench).time.length).toBeGreaterThan(before);
    expectSound(bench);
  });
});

describe('a disk that can no longer be written', () => {
  it('by a file that may not be changed: the same, until it may', () => {
    const { bench, disk } = benchOn(SmallDisk.ofFile(8_000_000));
    const { feed } = bench.daemon;
    disk.protect(join(disk.folder, 'records.sqlite-wal'), true);
    bench.goodRun();
    tick(bench);
    expect(feed.health()).toMatchObject({ recording: false });
    expect(feed.health().notices[0]).toMatchObject({ weight: 'alarm', text: expect.stringMatching(/^not recording: the store cannot be written/) as string });
    expect(feed.recentRuns(5)).toMatchObject([{ id: 'waiting-1', verdict: 'inconclusive' }]);
    disk.protect(join(disk.folder, 'records.sqlite-wal'), false);
    tick(bench);
    tick(bench);
    expect(feed.health()).toMatchObject({ recording: true, notices: [] });
    expect(feed.recentRuns(5)).toMatchObject([{ id: '1', verdict: 'pass' }]);
    const heard = feed.newest() + 1;
    bench.daemon.stop();
    expect(stored(bench).time.length).toBe(heard);
    expectSound(bench);
  });

  it('by a file system that the kernel has made read-only: judged and shown, with an alarm; the next start on a disk put right goes on', () => {
    const { bench, disk } = benchOn(SmallDisk.ofFile(8_000_000));
    const { feed } = bench.daemon;
    const acknowledged = stored(bench).time.length;
    disk.breakDown();
    bench.goodRun();
    tick(bench);
    expect(feed.health()).toMatchObject({ recording: false });
    expect(feed.health().notices[0]?.weight).toBe('alarm');
    expect(feed.recentRuns(5)).toMatchObject([{ id: 'waiting-1', verdict: 'inconclusive' }]);
    bench.daemon.stop();
    expect(() => bench.restart()).toThrow(/records\.sqlite: the disk (can only be read|refuses to write)/);
    disk.putRight();
    bench.restart();
    bench.goodRun();
    tick(bench);
    expect(bench.daemon.feed.health()).toMatchObject({ recording: true, notices: [] });
    expect(bench.daemon.feed.recentRuns(5)).toMatchObject([{ id: '1', verdict: 'pass' }]);
    bench.daemon.stop();
    expect(stored(bench).time.length).toBeGreaterThan(acknowledged);
    expectSound(bench);
  });
});
