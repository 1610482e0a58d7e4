import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { dateOrderOf, dayOfDate, secondsOfClock, shortClockOf, splitDateTime } from '../../../src/core/import/clock.js';

describe('secondsOfClock', () => {
  it.each([
    ['10:00:00,1', 36_000.1],
    ['15:41:04.201', 56_464.201],
    ['10:00:00:123', 36_000.123],
    ['6:07:09 PM', 65_229],
    ['12:00:00 am', 0],
    ['12:00:00+02:00', 36_000],
    ['12:00:00Z', 43_200],
    ['100:00:00', 360_000],
    ['24:61:00', undefined],
    ['13:00:00 pm', undefined],
    ['10', undefined],
  ])('%s is %s s', (text, seconds) => expect(secondsOfClock(text, 'hh:mm')).toBe(seconds));

  it('reads one colon as it is told', () => {
    expect(secondsOfClock('14:11.6', 'mm:ss')).toBe(14 * 60 + 11.6);
    expect(secondsOfClock('14:11', 'hh:mm')).toBe(14 * 3600 + 11 * 60);
  });
});

describe('shortClockOf', () => {
  it.each([
    ['14:11.6', 'mm:ss'],
    ['45:10', 'mm:ss'],
    ['14:11', undefined],
    ['14:11:06', null],
  ])('%s is %s', (text, meaning) => expect(shortClockOf(text)).toBe(meaning));
});

describe('dates', () => {
  it.each([
    ['01.02.2026', undefined],
    ['13.02.2026', 'day-first'],
    ['02/13/2026', 'month-first'],
    ['05.05.2026', null],
    ['2026-02-01', null],
  ])('%s proves the order %s', (text, order) => expect(dateOrderOf(text)).toBe(order));

  it('reads the same day however it is written', () => {
    fc.assert(
      fc.property(fc.date({ min: new Date('2000-01-01'), max: new Date('2099-12-31'), noInvalidDate: true }), (date) => {
        const day = Math.floor(date.getTime() / 86_400_000);
        const [y = '', m = '', d = ''] = date.toISOString().slice(0, 10).split('-');
        expect(dayOfDate(`${y}-${m}-${d}`, 'month-first')).toBe(day);
        expect(dayOfDate(`${y}/${m}/${d}`, 'month-first')).toBe(day);
        expect(dayOfDate(`${d}.${m}.${y}`, 'day-first')).toBe(day);
        expect(dayOfDate(`${m}/${d}/${y.slice(2)}`, 'month-first')).toBe(day);
      }),
    );
  });

  it('knows no 30 February', () => {
    expect(dayOfDate('30.02.2026', 'day-first')).toBeUndefined();
    expect(dayOfDate('2026-13-01', 'day-first')).toBeUndefined();
  });

  it.each([
    ['2024/10/22 15:41:04.201', { date: '2024/10/22', clock: '15:41:04.201' }],
    ['2026-11-25T02:03:04Z', { date: '2026-11-25', clock: '02:03:04Z' }],
    ['22-Oct-2024 15:41:04', { date: '22-Oct-2024', clock: '15:41:04' }],
    ['15:41:04', undefined],
  ])('parts %s', (text, parts) => expect(splitDateTime(text)).toEqual(parts));
});
