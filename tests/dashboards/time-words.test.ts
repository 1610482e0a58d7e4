import { describe, expect, it } from 'vitest';
import { clockTime, countdown, duration, signedDuration, timeTicks } from '../../dashboards/shared/time-words.js';

const anchor = { time: 1000, wall: new Date(2026, 2, 9, 8, 59, 50).getTime() };

describe('times on the page', () => {
  it.each([[42, '0:42'], [0, '0:00'], [-3, '0:00'], [41.2, '0:42'], [59.9999999, '1:00'], [725, '12:05'], [3723, '1:02:03']])('%f s left reads %s', (s, text) => {
    expect(countdown(s)).toBe(text);
  });
  it.each([[0.04, '0.04 s'], [31, '31 s'], [125, '2 min 5 s'], [240, '4 min'], [4200, '1 h 10 min'], [7200, '2 h'], [Number.NaN, '–']])('%f s last %s', (s, text) => {
    expect(duration(s)).toBe(text);
  });
  it.each([[2.5, '+2.5 s'], [-590, '−9 min 50 s'], [3.6e-15, '0 s'], [-3.6e-15, '0 s'], [0, '0 s'], [0.0004, '+0.0004 s']])('%f s apart reads %s', (s, text) => {
    expect(signedDuration(s)).toBe(text);
  });
  it('turns the trace clock into the clock on the wall', () => {
    expect(clockTime(1000, anchor)).toBe('08:59:50');
    expect(clockTime(1009.99, anchor)).toBe('08:59:59');
    expect(clockTime(1010, anchor)).toBe('09:00:00');
    expect(clockTime(1000.25, anchor, 2)).toBe('08:59:50.25');
    expect(clockTime(999.5, anchor, 1)).toBe('08:59:49.5');
  });
  it('labels whole steps of the wall clock, and not more of them than fit', () => {
    const { at, decimals } = timeTicks(1000, 1060, 7, anchor);
    expect(at.map((t) => clockTime(t, anchor))).toEqual(['08:59:50', '09:00:00', '09:00:10', '09:00:20', '09:00:30', '09:00:40', '09:00:50']);
    expect(decimals).toBe(0);
    for (const length of [0.05, 0.3, 4, 90, 1000, 20_000]) {
      const ticks = timeTicks(1000, 1000 + length, 8, anchor);
      expect(ticks.at.length).toBeGreaterThan(1);
      expect(ticks.at.length).toBeLessThanOrEqual(9);
      expect(new Set(ticks.at.map((t) => clockTime(t, anchor, ticks.decimals))).size).toBe(ticks.at.length);
    }
  });
});
