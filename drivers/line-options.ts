import { z } from 'zod';
import { quantity } from '../src/core/quantity.js';

const seconds = (min: number, max: number, meaning: string, example: string) => quantity({ dimension: 'time', min, max, meaning, example });
const words = (meaning: string, fallback: readonly string[]) =>
  z.array(z.string().min(1), { error: `should be a list of words: ${meaning}` }).default([...fallback]);

/** A whole number in a range, with one sentence for everything else. */
export const wholeNumber = (min: number, max: number, meaning: string) =>
  z.number().refine((value) => Number.isInteger(value) && value >= min && value <= max, {
    error: (issue) => `${String(issue.input)} should be a whole number from ${min} to ${max}: ${meaning}`,
  });

/** A regular expression that must match a whole line or field. */
export const wholePattern = (source: string): RegExp => new RegExp(`^(?:${source})$`);

const pattern = (meaning: string) =>
  z.string().min(1).superRefine((source, context) => {
    try {
      wholePattern(source);
    } catch (error) {
      context.addIssue({ code: 'custom', continue: false, message: `'${source}' is not a regular expression (${(error as Error).message}); ${meaning}` });
    }
  });

/** Text that goes over the line: one byte a character. */
const lineText = (limit: number, example: string) =>
  z.string().refine((text) => text.length >= 1 && text.length <= limit && [...text].every((c) => c <= '\u00ff'), {
    error: `should be 1 to ${limit} characters of one byte each, such as ${example}`,
  });

const contact = <A extends string, B extends string>(a: A, b: B) =>
  z.strictObject({ [a]: z.string().min(1), [b]: z.string().min(1) } as Record<A | B, z.ZodString>);

/**
 * Words that instruments send in place of a number; compared whole, without case. The lists are common practice of
 * indicators and meters, not taken from one maker.
 */
export const marksSchema = z
  .strictObject({
    overRange: words('said when the signal is too high', ['OL', '+OL', 'OVER', 'OVERRANGE', 'OVFL', '+OVFL', 'OFL', '>>>>', '^^^^', 'HHHH', 'INF', '+INF']),
    underRange: words('said when the signal is too low', ['-OL', 'UNDER', 'UNDERRANGE', 'UFL', '-OVFL', '<<<<', '____', 'LLLL', '-INF']),
    noReading: words('said when there is no reading', ['--', '---', '----', '-----', '------', '--.-', '---.-', 'NAN', 'N/A', 'NC', 'OPEN']),
    error: words('said when the instrument is at fault', ['E', 'ERR', 'ERROR', 'FAULT', 'FAIL']),
  })
  .prefault({});

/** How a line is framed, read and asked for; the same for a serial port and for TCP. */
export const lineShape = {
  delimiter: lineText(8, '"\\r\\n"')
    .optional()
    .meta({ description: 'what ends a line; without it CR, LF and CRLF all do' }),
  lineStart: lineText(8, '"\\u0002"')
    .optional()
    .meta({ description: 'what every line begins with, such as STX; a line without it is malformed' }),
  maximumLineLength: wholeNumber(16, 65_536, 'bytes that a line may have; longer ones are thrown away and counted').default(4096),
  lineLength: wholeNumber(1, 4096, 'exact length of every line, where the instrument sends a fixed width').optional(),
  firstLine: z.enum(['drop', 'keep']).default('drop').meta({ description: 'keep only where the instrument begins a line at opening' }),
  settleAfterOpen: seconds(0, 60, 'lines that come sooner after opening are ignored', '2 s').default(0),
  label: z
    .string()
    .regex(/^[A-Za-z][A-Za-z0-9_]*$/, { error: 'should be the name before = or : on the line, such as P2' })
    .optional()
    .meta({ description: 'without it P, P1, PRESS and PRESSURE are understood' }),
  pattern: pattern('it must match the whole line and name (?<value>...), and may name unit, state, lid, pump and vent').optional(),
  column: wholeNumber(1, 200, 'the column of the value, from 1').optional(),
  columns: wholeNumber(1, 200, 'how many columns each line has').optional(),
  unitColumn: wholeNumber(1, 200, 'the column of the unit, from 1').optional(),
  separator: z.string().length(1, { error: 'should be one character such as ";"' }).optional(),
  numberFormat: z.enum(['point', 'comma']).default('point'),
  checksum: z.enum(['none', 'xor']).default('none').meta({ description: "xor: '$...*hh', the exclusive or of what is between" }),
  marks: marksSchema,
  contacts: z
    .strictObject({
      lid: contact('open', 'closed').optional(),
      vent: contact('open', 'closed').optional(),
      pump: contact('on', 'off').optional(),
    })
    .optional()
    .meta({ description: 'what the named groups lid, vent and pump of the pattern say' }),
  ignoreLines: pattern('lines that match it whole are no readings').optional(),
  restartLines: pattern('a line that matches it whole says that the instrument restarted').optional(),
  poll: z
    .strictObject({
      query: lineText(256, '"?P\\r"'),
      every: seconds(0.005, 3600, 'the fixed grid on which is asked', '100 ms'),
      answerWithin: seconds(0.01, 60, 'no answer by then is a missing reading', '1 s').default(1),
    })
    .optional(),
} as const;

export type LineOptions = z.output<z.ZodObject<typeof lineShape>>;
export type PollOptions = NonNullable<LineOptions['poll']>;

/** Options that are each possible but cannot all be meant; for `superRefine`. */
export function refuseContradictions(o: LineOptions, context: z.RefinementCtx): void {
  const refuse = (key: string, message: string) => context.addIssue({ code: 'custom', path: [key], message });
  if (o.pattern !== undefined && o.column !== undefined) refuse('column', 'give a pattern or a column, not both');
  if (o.label !== undefined && (o.pattern ?? o.column) !== undefined) refuse('label', 'plays no part where a pattern or a column is given');
  if (o.pattern !== undefined && !o.pattern.includes('(?<value>')) refuse('pattern', `'${o.pattern}' must name its number: (?<value>...)`);
  if (o.column === undefined) {
    for (const key of ['columns', 'unitColumn', 'separator'] as const) if (o[key] !== undefined) refuse(key, 'needs column');
  } else if (o.columns === undefined) {
    refuse('columns', 'missing; say how many columns each line has, so that two lines run together are not read as one');
  } else {
    if (o.column > o.columns) refuse('column', `${o.column} is beyond the ${o.columns} columns`);
    if ((o.unitColumn ?? 1) > o.columns) refuse('unitColumn', `${o.unitColumn} is beyond the ${o.columns} columns`);
    const separator = o.separator ?? ';';
    if (separator === (o.numberFormat === 'comma' ? ',' : '.')) refuse('separator', `'${separator}' is the decimal sign of numberFormat ${o.numberFormat}`);
  }
  for (const key of ['lid', 'vent', 'pump'] as const) {
    if (o.contacts?.[key] !== undefined && !o.pattern?.includes(`(?<${key}>`)) refuse('contacts', `${key} needs a pattern that names (?<${key}>...)`);
  }
  if (o.lineLength !== undefined && o.lineLength > o.maximumLineLength) refuse('lineLength', `${o.lineLength} is beyond maximumLineLength ${o.maximumLineLength}`);
}
