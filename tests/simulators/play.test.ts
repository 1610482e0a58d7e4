import { describe, expect, it } from 'vitest';
import { play, type Reading } from '../../simulators/play.js';
import { playlistStream, testPlaylist } from '../../simulators/player.js';

const stream = (times: readonly number[]): Reading[] => times.map((time) => ({ time, pressure: time, flags: 0 }));

/** A clock that stands still between waits; a wait takes `late` ms longer than asked. */
function slowClock(late: number) {
  let now = 1000;
  const waits: number[] = [];
  return {
    waits,
    spend: (ms: number) => (now += ms),
    elapsed: () => now - 1000,
    now: () => now,
    wait: async (ms: number) => {
      waits.push(ms);
      now += ms + late;
      await Promise.resolve();
    },
  };
}

describe('play', () => {
  it('shows every reading in order at its time, sooner at a higher speed', async () => {
    const clock = slowClock(0);
    const shown: [number, number][] = [];
    await play(stream([10, 10.1, 10.2, 10.5]), (r) => shown.push([r.time, Math.round(clock.elapsed())]), { speed: 5, clock });
    expect(shown).toEqual([[10, 0], [10.1, 20], [10.2, 40], [10.5, 100]]);
  });

  it('keeps to one schedule: late timers do not add up', async () => {
    const clock = slowClock(4);
    const shown: number[] = [];
    await play(stream(Array.from({ length: 101 }, (_, i) => i / 10)), () => shown.push(clock.elapsed()), { clock });
    expect(shown.at(-1)).toBeCloseTo(10_004, 6);
  });

  it('shows what is due at once after a hiccup', async () => {
    const clock = slowClock(0);
    const shown: number[] = [];
    await play(stream([0, 0.05, 0.1, 0.15, 0.2]), (r) => {
      if (r.time === 0) clock.spend(120);
      shown.push(Math.round(clock.elapsed()));
    }, { clock });
    expect(shown).toEqual([120, 120, 120, 150, 200]);
  });

  it('stops when told, also while it waits', async () => {
    const stop = new AbortController();
    const shown: number[] = [];
    const playing = play(stream([0, 3600]), (r) => {
      shown.push(r.time);
      stop.abort();
    }, { signal: stop.signal });
    await playing;
    expect(shown).toEqual([0]);
  });

  it('does not wait at infinite speed', async () => {
    let count = 0;
    await play(stream([0, 1e6, 2e6]), () => count++, { speed: Number.POSITIVE_INFINITY });
    expect(count).toBe(3);
  });
});

describe('playlist stream', () => {
  it('joins runs on one ascending clock, vented in between, and goes on with the next seed', () => {
    const begun: [string, number][] = [];
    const two = testPlaylist.slice(0, 2);
    let last = -1;
    let rests = 0;
    let vented = true;
    for (const r of playlistStream(two, { seed: 5, rounds: 2, announce: (s, seed) => begun.push([s.name, seed]) })) {
      expect(r.time).toBeGreaterThan(last);
      last = r.time;
      const now = r.pressure < 5;
      if (now && !vented) rests++;
      vented = now;
    }
    expect(begun).toEqual([['live-pass', 5], ['live-drop', 5], ['live-pass', 6], ['live-drop', 6]]);
    expect(rests).toBeGreaterThanOrEqual(4);
    expect(vented).toBe(true);
  });

  it('never ends when told so', () => {
    const endless = playlistStream(testPlaylist.slice(0, 1), { rounds: Number.POSITIVE_INFINITY });
    let readings = 0;
    for (const r of endless) if (r.time > 60 || readings++ > 20_000) break;
    expect(readings).toBeGreaterThan(2500);
  });
});
