import type { Engine } from './settings.js';

/** A field: a number is written as a float, a bigint as a whole number. A field name keeps its type for ever. */
export type FieldValue = number | bigint | boolean | string;

/** One point of the database. What is `undefined`, empty or no finite number is left out. */
export interface Point {
  readonly measurement: string;
  readonly tags: Readonly<Record<string, string | undefined>>;
  readonly fields: Readonly<Record<string, FieldValue | null | undefined>>;
  /** In the resolution of the engine: whole µs since 1970 for InfluxDB, whole ms for VictoriaMetrics. */
  readonly stamp: number;
}

/** Characters of a text field; a record's sentence is far shorter. */
const longestText = 4000;

/**
 * One line of the line protocol without its end; `null` where no field is left.
 * Escapes: InfluxDB line protocol reference, section 'Special characters'.
 */
export function lineOf(point: Point, engine: Engine): string | null {
  const fields = Object.entries(point.fields).flatMap(([key, value]) => {
    const written = fieldOf(value, engine);
    return written === null ? [] : [`${escapeKey(key)}=${written}`];
  });
  return fields.length === 0 ? null : `${seriesOf(point.measurement, point.tags, engine)} ${fields.join(',')} ${point.stamp}`;
}

/** Measurement and tags, the part of a line that names the series. */
export function seriesOf(measurement: string, tags: Point['tags'], engine: Engine): string {
  const written = Object.entries(tags).flatMap(([key, value]) => (value === undefined || value.trim() === '' ? [] : [`,${escapeKey(key)}=${escapeTag(value, engine)}`]));
  return escapeMeasurement(measurement) + written.join('');
}

/** A line cannot hold a line end: it is written as the two characters that stand for it in most programs. */
const inOneLine = (text: string): string => text.replaceAll('\r\n', '\\n').replaceAll(/[\n\r]/g, '\\n');

const escapeMeasurement = (text: string): string => inOneLine(text).replaceAll(/[, ]/g, '\\$&');

const escapeKey = (text: string): string => inOneLine(text).replaceAll(/[,= ]/g, '\\$&');

/**
 * A backslash stands for itself in InfluxDB, which has no way to write one at the end of a tag: there the wide form of
 * the character is written. VictoriaMetrics takes two backslashes for one.
 */
export function escapeTag(text: string, engine: Engine): string {
  const flat = inOneLine(text);
  const safe = engine === 'victoria-metrics' ? flat.replaceAll('\\', '\\\\') : flat.replace(/\\+$/, (end) => '\uff3c'.repeat(end.length));
  return safe.replaceAll(/[,= ]/g, '\\$&');
}

function fieldOf(value: FieldValue | null | undefined, engine: Engine): string | null {
  switch (typeof value) {
    case 'number':
      return Number.isFinite(value) ? String(value) : null;
    case 'bigint':
      return `${value}i`;
    case 'boolean':
      return value ? 'true' : 'false';
    case 'string':
      // VictoriaMetrics keeps numbers only, and would make a 0 of every text.
      return engine === 'victoria-metrics' ? null : `"${inOneLine(value.slice(0, longestText)).replaceAll(/["\\]/g, '\\$&')}"`;
    default:
      return null;
  }
}
