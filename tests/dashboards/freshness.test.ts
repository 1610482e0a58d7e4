import { describe, expect, it } from 'vitest';
import { ageWords, Freshness } from '../../dashboards/live/freshness.js';
import { sleepProofClock } from '../../dashboards/live/page-clock.js';

describe('FC-34: is this number alive?', () => {
  it('is stale before anything came, fresh with samples, stale when they stop though heartbeats go on', () => {
    const f = new Freshness();
    expect(f.stale(0)).toBe(true);
    f.samples(0.02, 1000);
    expect(f.stale(1500)).toBe(false);
    for (let t = 2000; t <= 5000; t += 1000) f.heartbeat((t - 1000) / 1000, { at: t, held: 0 }, t);
    expect(f.stale(3900)).toBe(false);
    expect(f.stale(4100)).toBe(true);
    expect(f.age(5000)).toBeCloseTo(4, 6);
  });
  it('is stale when nothing at all is heard, however young the last sample was', () => {
    const f = new Freshness();
    f.samples(0, 1000);
    expect(f.stale(4001)).toBe(true);
  });
  it('does not take a message that was long on its way for a fresh one', () => {
    const f = new Freshness();
    // The answer to a heartbeat of 1000 arrives at 9000, held for 500 ms by the server: 7.5 s on the way.
    f.heartbeat(0.1, { at: 1000, held: 500 }, 9000);
    expect(f.age(9000)).toBeCloseTo(7.6, 6);
    f.samples(0.1, 9100);
    expect(f.stale(9100)).toBe(true);
  });
  it('is not misled by an age that is not known', () => {
    const f = new Freshness();
    f.samples(null, 1000);
    f.heartbeat(null, null, 1000);
    expect([f.age(1000), f.stale(1000)]).toEqual([null, true]);
  });
  it.each([[0.2, 'live, under 1 s old'], [2.4, 'live, 2 s old'], [4.2, 'no live data for 4 s'], [300, 'no live data for 5 min'], [8000, 'no live data for 2 h']])('%f s reads %s', (age, words) => {
    expect(ageWords(age, true)).toBe(words);
  });
});

describe('the page clock', () => {
  it('counts on through a sleep in which the monotonic clock stood still, and never runs backward', () => {
    let [monotonic, wall] = [0, 1e12];
    const clock = sleepProofClock(() => monotonic, () => wall);
    const pass = (m: number, w: number) => { monotonic += m; wall += w; return clock(); };
    expect(pass(100, 100)).toBe(100);
    expect(pass(10, 3_600_010)).toBe(3_600_110);
    expect(pass(10, -50_000)).toBe(3_600_120);
    expect(pass(10, 10)).toBe(3_600_130);
  });
  it('is not driven by the rounding of the wall clock', () => {
    let [monotonic, wall] = [0, 0];
    const clock = sleepProofClock(() => monotonic, () => wall);
    for (let i = 0; i < 1000; i++) { monotonic += 0.6; wall = Math.ceil(monotonic); clock(); }
    expect(clock()).toBeCloseTo(600, 6);
  });
});
