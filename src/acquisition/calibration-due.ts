/** The IANA name of the zone that this computer's clock is set to, which is where the bench stands. */
export const localZone = (): string => new Intl.DateTimeFormat().resolvedOptions().timeZone;

/**
 * `2027-03-01`: the day of a moment on the wall calendar of a time zone.
 * @param wall ms since 1970
 * @param timeZone IANA name such as `Europe/Berlin`
 * @throws RangeError for a moment that is no date, or a zone that is none
 */
export function localDay(wall: number, timeZone: string): string {
  const parts = new Intl.DateTimeFormat('en-US', {
    timeZone, calendar: 'gregory', numberingSystem: 'latn', year: 'numeric', month: '2-digit', day: '2-digit',
  }).formatToParts(wall);
  const part = (type: 'year' | 'month' | 'day') => parts.find((p) => p.type === type)?.value ?? '';
  return `${part('year').padStart(4, '0')}-${part('month')}-${part('day')}`;
}

/**
 * Whether a calibration has run out. It holds to the end of its due day, by the calendar of the place where the bench
 * stands: at 23:30 of that day it is in force, at 00:10 of the next it is overdue, whatever day it is in UTC.
 * @param due `2026-03-01`, the last day on which it holds
 * @param wall ms since 1970
 * @param timeZone IANA name
 */
export const isCalibrationOverdue = (due: string, wall: number, timeZone: string): boolean => localDay(wall, timeZone) > due;
