import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { isCalibrationOverdue, localDay } from '../../src/acquisition/calibration-due.js';

describe('the due day of a calibration', () => {
  // FC-46: due day included, in local time.
  it.each([
    ['23:30 on the due day in Berlin', '2026-03-01', '2026-03-01T22:30:00Z', 'Europe/Berlin', false],
    ['00:10 on the day after in Berlin, still the due day in UTC', '2026-03-01', '2026-03-01T23:10:00Z', 'Europe/Berlin', true],
    ['its last millisecond', '2026-03-01', '2026-03-01T22:59:59.999Z', 'Europe/Berlin', false],
    ['midnight', '2026-03-01', '2026-03-01T23:00:00Z', 'Europe/Berlin', true],
    ['23:10 in UTC, where the due day is not over', '2026-03-01', '2026-03-01T23:10:00Z', 'UTC', false],
    // Berlin is two hours ahead of UTC from the last Sunday of March (Directive 2000/84/EC, articles 2 and 3).
    ['the last minute of a due day in summer time', '2026-06-30', '2026-06-30T21:59:00Z', 'Europe/Berlin', false],
    ['the first minute after it', '2026-06-30', '2026-06-30T22:00:00Z', 'Europe/Berlin', true],
    ['the evening of the due day in Denver, the next day in UTC', '2026-03-01', '2026-03-02T05:30:00Z', 'America/Denver', false],
    ['the morning after in Auckland, two days on from the due day in Denver', '2026-03-01', '2026-03-01T11:00:00Z', 'Pacific/Auckland', true],
    ['a later year with an earlier day', '2026-12-31', '2027-01-01T12:00:00Z', 'Europe/Berlin', true],
  ])('%s', (_what, due, instant, zone, overdue) => expect(isCalibrationOverdue(due, Date.parse(instant), zone)).toBe(overdue));

  it('counts days as UTC does, shifted by the hours of a zone without summer time', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: Date.UTC(2199, 0, 1) }), fc.integer({ min: -12, max: 14 }), (wall, hours) => {
        // The names of these zones have their sign the other way round (tz database, file etcetera).
        const zone = `Etc/GMT${hours <= 0 ? '+' : '-'}${Math.abs(hours)}`;
        expect(localDay(wall, zone)).toBe(new Date(wall + hours * 3_600_000).toISOString().slice(0, 10));
      }),
    );
  });

  it('takes no zone that is none', () => {
    expect(() => localDay(0, 'Europe/Nowhere')).toThrow(RangeError);
    expect(() => localDay(NaN, 'UTC')).toThrow(RangeError);
  });
});
