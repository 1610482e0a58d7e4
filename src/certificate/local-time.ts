/** A moment (ms since 1970) on the calendar of a zone, without doubt: `2027-03-01 10:12:30 +01:00`. */
export function localTime(wall: number, zone: string): string {
  const parts = new Intl.DateTimeFormat('en-US', {
    timeZone: zone, calendar: 'gregory', numberingSystem: 'latn', hourCycle: 'h23',
    year: 'numeric', month: '2-digit', day: '2-digit', hour: '2-digit', minute: '2-digit', second: '2-digit', timeZoneName: 'longOffset',
  }).formatToParts(wall);
  const part = (type: Intl.DateTimeFormatPartTypes) => parts.find((p) => p.type === type)?.value ?? '';
  const offset = part('timeZoneName').replace('GMT', '') || '+00:00';
  return `${part('year').padStart(4, '0')}-${part('month')}-${part('day')} ${part('hour')}:${part('minute')}:${part('second')} ${offset}`;
}

/** Only the day: `2027-03-01`. */
export const localDate = (wall: number, zone: string): string => localTime(wall, zone).slice(0, 10);
