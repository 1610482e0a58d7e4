import { pressureUnitOf } from '../units.js';
import type { TimeUnit } from './import-options.js';

/** What a header says of one column. */
export interface ColumnName {
  /** As written, without the unit where one is set off by brackets, a slash or an underscore. */
  readonly name: string;
  /** The whole field as written. */
  readonly written: string;
  /** The unit as written; `undefined` where there is none. */
  readonly unit: string | undefined;
}

const timeSpellings: Readonly<Record<string, TimeUnit>> = {
  s: 's', sec: 's', secs: 's', sek: 's', second: 's', seconds: 's', sekunden: 's',
  ms: 'ms', msec: 'ms', millisec: 'ms', millis: 'ms', milliseconds: 'ms', millisekunden: 'ms',
  us: 'us', 'µs': 'us', 'μs': 'us', usec: 'us', microseconds: 'us',
  min: 'min', mins: 'min', minute: 'min', minutes: 'min', minuten: 'min',
  h: 'h', hr: 'h', hours: 'h', hour: 'h', d: 'd', days: 'd',
};

/** The unit of time that a text names. */
export const timeUnitOf = (text: string): TimeUnit | undefined => timeSpellings[text.trim().toLowerCase()];

/** Parts a field of a header into name and unit: `p [bar]`, `time(sec)`, `pressure_bar`, `p / bar`, `p in psi`, `bar`. */
export function columnName(field: string): ColumnName {
  const written = field.trim();
  const bracketed = /^(.*?)\s*(?:\[(.*)\]|\((.*)\))$/.exec(written);
  if (bracketed && pressureUnitOf(written) === undefined) {
    return { name: bracketed[1] ?? '', written, unit: (bracketed[2] ?? bracketed[3] ?? '').trim() };
  }
  const parts = /^(.*?)(?:\s*\/\s*|\s+in\s+|[\s_,]+)([^\s_,]+)$/.exec(written);
  const name = parts?.[1] ?? '';
  const unit = parts?.[2] ?? written;
  const known = timeUnitOf(unit) !== undefined ? isTimeWord(name) || parts === null : pressureUnitOf(unit) !== undefined && unit.toLowerCase() !== 'at';
  return known ? { name: name === '' ? written : name, written, unit } : { name: written, written, unit: undefined };
}

const words = (text: string): string[] => text.replace(/([a-z])([A-Z])/g, '$1 $2').toLowerCase().split(/[^a-zà-ÿ0-9]+/).filter(Boolean);

const timeWords = new Set([
  'time', 'times', 'timestamp', 'datetime', 'date', 'clock', 'elapsed', 'seconds', 't', 's', 'ms', 'sec',
  'datum', 'uhrzeit', 'zeit', 'zeitstempel', 'zeitpunkt', 'messzeit', 'laufzeit', 'tijd', 'tijdstip',
  'temps', 'heure', 'horodatage', 'hora', 'fecha', 'tiempo', 'tempo', 'data', 'ora', 'tid',
]);

export function isTimeWord(name: string): boolean {
  const found = words(name);
  return found.some((word) => timeWords.has(word)) && !found.some((word) => /^(press|druck)/.test(word));
}

/** A name that says pressure: a word of several languages, or `p`, `p1`, `pre2`. */
export const isPressureWord = (name: string): boolean =>
  words(name).some((word) => /^press|druck$|^druck|^druk$|druk$|^presi|^tryck|^p\d*$|^pre\d+$|^pt\d*$/.test(word));

/** A pressure that is not the reading itself: a set point, a limit, an extreme. */
export const isNotTheReading = (name: string): boolean =>
  words(name).some((word) => /^(set|setpoint|sp|soll|sollwert|solldruck|target|limit|max|min|maximum|minimum|alarm|nominal)$/.test(word));
