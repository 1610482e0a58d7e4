import { describe, expect, it } from 'vitest';
import { TraceClock, type TimeSources } from '../../src/daemon/trace-clock.js';

/** A machine whose three clocks are moved by hand. */
const machine = () => {
  const at = { monotonic: 5000, wall: 1_700_000_000_000, boot: 90_000 };
  const sources: TimeSources = { monotonic: () => at.monotonic, wall: () => at.wall, sinceBoot: () => at.boot };
  return {
    sources,
    wait(seconds: number) {
      at.monotonic += seconds;
      at.wall += seconds * 1000;
      at.boot += seconds;
    },
    sleep(seconds: number) {
      at.wall += seconds * 1000;
      at.boot += seconds;
    },
    step(seconds: number) {
      at.wall += seconds * 1000;
    },
  };
};

describe('trace clock', () => {
  it('starts at 0 or where an earlier session ended, and runs with the monotonic clock', () => {
    const bench = machine();
    const fresh = new TraceClock(bench.sources);
    const later = new TraceClock(bench.sources, 321);
    bench.wait(2.5);
    expect(fresh.now()).toBeCloseTo(2.5, 9);
    expect(later.now()).toBeCloseTo(323.5, 9);
    expect(later.wallOf(321)).toBe(1_700_000_000_000);
  });

  // FC-24: the calendar moves by an hour in the middle of a 60 s hold.
  it.each([-3600, 3600])('a calendar step of %i s changes the anchor and no duration', (seconds) => {
    const bench = machine();
    const clock = new TraceClock(bench.sources);
    bench.wait(30);
    expect(clock.check()).toBeNull();
    const before = clock.now();
    bench.step(seconds);
    expect(clock.check()).toEqual({ kind: 'step', seconds: expect.closeTo(seconds, 6) as number });
    expect(clock.now()).toBe(before);
    bench.wait(30);
    expect(clock.now()).toBeCloseTo(60, 9);
    expect(clock.check()).toBeNull();
    expect(clock.wallOf(60)).toBeCloseTo(1_700_000_000_000 + (60 + seconds) * 1000, 3);
  });

  // FC-25: the monotonic clock of Linux stands still during suspend; the time since boot goes on.
  it('a sleep is told apart from a step', () => {
    const bench = machine();
    const clock = new TraceClock(bench.sources);
    bench.wait(20);
    bench.sleep(7200);
    bench.wait(0.3);
    expect(clock.check()).toEqual({ kind: 'sleep', seconds: expect.closeTo(7200, 6) as number });
    expect(clock.now()).toBeCloseTo(20.3, 9);
    expect(clock.check()).toBeNull();
  });

  it('slow slewing moves the anchor in small steps and is no news', () => {
    const bench = machine();
    const clock = new TraceClock(bench.sources);
    const first = clock.anchor();
    for (let second = 0; second < 3600; second++) {
      bench.wait(1);
      bench.step(0.0005);
      expect(clock.check()).toBeNull();
    }
    expect(clock.anchor()).not.toEqual(first);
    expect(Math.abs(clock.wallOf(3600) - (1_700_000_000_000 + 3600_000 + 1800))).toBeLessThanOrEqual(250);
  });
});
