import { describe, expect, it } from 'vitest';
import type { BenchState } from '../../src/watch/bench-state.js';
import { EventLoopWatch } from '../../src/watch/event-loop-watch.js';
import { healthOf } from '../../src/watch/health.js';

const link = { samples: 0, good: 0, faults: {}, dropped: {}, notices: {}, signalLost: 0, interval: null, intervalDeviation: null };
const bench = (change: Partial<BenchState['channels'][number]> = {}, recording = true): BenchState => ({
  bench: 'Bay 2', channels: [{ channel: 'pressure', link, state: 'live', age: 0.1, silentAfter: 5, ...change }], recording, runs: { pass: 0, fail: 0, inconclusive: 0 },
  events: new Map(), notices: [], viewers: 0, storeSize: null, diskFree: null, alerts: [], alertsHeld: 0, forwarders: [],
});

describe('health', () => {
  it.each([
    ['all is well', bench(), 0, []],
    ['a slow instrument within its time', bench({ age: 30, silentAfter: 100 }), 0, []],
    ['no reading yet', bench({ age: null, state: 'connecting' }), 0, ['Bay 2, pressure: no reading yet (link connecting)']],
    ['silence', bench({ age: 7.25, state: 'silent' }), 0, ['Bay 2, pressure: no reading for 7.3 s (link silent)']],
    ['a store that is not written', bench({}, false), 0, ['Bay 2: readings are not being written to the store']],
    ['a program that stands still', bench(), 3.5, ['the program has been too busy for 3.5 s']],
  ])('%s', (_what, state, late, reasons) => expect(healthOf([state], late)).toMatchObject({ healthy: reasons.length === 0, reasons }));

  it('tells every reason of every bench', () => {
    const { reasons, benches } = healthOf([bench(), { ...bench({ age: null }, false), bench: 'Bay 3' }], 0);
    expect(reasons.map((reason) => reason.slice(0, 5))).toEqual(['Bay 3', 'Bay 3']);
    expect(benches.map((one) => one.bench)).toEqual(['Bay 2', 'Bay 3']);
  });
});

describe('the watch on the pace of the program', () => {
  it('tells a stall once it is over, counts it, and takes the word back after ten minutes', () => {
    let now = 100;
    const told: string[] = [];
    const watch = new EventLoopWatch({ stalled: (seconds, count) => told.push(`${seconds.toFixed(2)} ${count}`), over: () => told.push('over') }, () => now);
    const run = (seconds: number) => {
      for (const end = now + seconds; now < end; ) {
        now += 0.25;
        watch.beat();
      }
    };
    run(5);
    now += 3;
    expect(watch.lateBy()).toBeCloseTo(2.75, 6);
    watch.beat();
    run(10);
    now += 0.9;
    watch.beat();
    expect(told).toEqual(['2.75 1']);
    run(700);
    expect(told).toEqual(['2.75 1', 'over']);
    now += 2;
    watch.beat();
    expect(told.at(-1)).toBe('1.75 2');
  });

  it('measures the delays of a program that really was busy', async () => {
    const watch = new EventLoopWatch({ stalled: () => undefined, over: () => undefined });
    watch.start();
    try {
      await new Promise((resolve) => setTimeout(resolve, 100));
      const until = performance.now() + 400;
      while (performance.now() < until);
      await new Promise((resolve) => setTimeout(resolve, 100));
      const delays = watch.takeDelays();
      expect(delays.longest).toBeGreaterThan(0.3);
      expect(delays.median).toBeLessThan(delays.longest);
    } finally {
      watch.stop();
    }
  });
});
