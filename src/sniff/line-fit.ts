import { z } from 'zod';
import { lineShape, refuseContradictions, type LineOptions } from '../../drivers/line-options.js';
import { LineSession } from '../../drivers/line-session.js';
import { LineFramer } from '../../drivers/line-framer.js';
import { signalUnitOf, type SignalUnit } from '../../drivers/signal-unit.js';
import type { Received } from '../../drivers/driver.js';
import type { Chunk } from './hear.js';
import { proposalsFor } from './line-proposals.js';
import { barOf, plausibility, unitsToTry, type Wanted } from './plausible.js';

/** One way to read the lines, and how well it does. */
export interface LineFit {
  /** As a bench file has them, under `input`. */
  readonly options: Readonly<Record<string, unknown>>;
  readonly means: string;
  readonly unit: SignalUnit;
  /** True where the line itself names the unit. */
  readonly unitNamed: boolean;
  /** Share of the lines that it understands, 0 to 1; error words and missing readings are understood. */
  readonly understood: number;
  /** In the unit of the instrument, as they came. */
  readonly readings: readonly number[];
  /** bar; `null` where the unit is no pressure. */
  readonly pressures: readonly (number | null)[];
  readonly score: number;
  readonly says: string;
}

const schema = z.strictObject(lineShape).superRefine(refuseContradictions);
/** Fits this close are told apart by being simple. */
const sameScore = 0.02;
/** What a fit is worth whose unit is no pressure and cannot be told. */
const unknownMeaning = 0.3;

/** Ways to read what came, the best first; what understands less than half is left out. */
export function lineFits(chunks: readonly Chunk[], wanted: Wanted, base: Readonly<Record<string, unknown>> = {}): LineFit[] {
  const lines = linesOf(chunks, schema.parse(base));
  const fits = proposalsFor(lines).flatMap(({ options, means }) =>
    (['point', 'comma'] as const).flatMap((numberFormat) => {
      const written = { ...base, ...options, ...(numberFormat === 'comma' && { numberFormat }) };
      const found = schema.safeParse(written);
      return found.success ? fitsOf(chunks, found.data, { options: written, means: numberFormat === 'comma' ? `${means}, decimal comma` : means }, wanted) : [];
    }),
  );
  // The first of equals is the simplest.
  return fits.toSorted((a, b) => Math.round(b.score / sameScore) - Math.round(a.score / sameScore));
}

/** Whole lines, as the driver cuts them; the first may have begun before it was listened to. */
export function linesOf(chunks: readonly Chunk[], options: Pick<LineOptions, 'delimiter' | 'maximumLineLength' | 'firstLine' | 'lineStart'>): string[] {
  const lines: string[] = [];
  const delimiter = options.delimiter === undefined ? null : Buffer.from(options.delimiter, 'latin1');
  const framer = new LineFramer(delimiter, options.maximumLineLength, options.firstLine === 'keep');
  for (const { bytes } of chunks) framer.push(bytes, { line: (text, whole) => void (whole && lines.push((text.startsWith(options.lineStart ?? '') ? text.slice(options.lineStart?.length ?? 0) : text).replace(/^[\r\n]+|[\r\n]+$/g, ''))), oversize: () => {} });
  return lines;
}

function fitsOf(chunks: readonly Chunk[], options: LineOptions, proposal: { options: Readonly<Record<string, unknown>>; means: string }, wanted: Wanted): LineFit[] {
  const items: Received[] = [];
  const session = new LineSession(options, chunks[0]?.time ?? 0, { receive: (item) => items.push(item), send: () => {} });
  for (const { time, bytes } of chunks) session.bytes(time, bytes);
  const readings = items.filter((item) => item.kind === 'reading');
  const faults = items.filter((item) => item.kind === 'fault');
  const strange = faults.filter(({ fault }) => fault === 'malformed' || fault === 'damaged' || fault === 'checksum' || fault === 'oversize').length;
  const understood = readings.length === 0 ? 0 : 1 - strange / (readings.length + faults.length);
  if (understood < 0.5) return [];
  const named = [...new Set(readings.map(({ unit }) => unit))].filter((unit) => unit !== null);
  const known = named.map((unit) => signalUnitOf(unit)).filter((unit) => unit !== undefined);
  const values = readings.map(({ value }) => value);
  const units = known[0] !== undefined ? [known[0]] : unitsToTry(wanted);
  return units.map((unit) => {
    const pressures = values.map((value) => barOf(value, unit, wanted));
    const usable = pressures.filter((pressure) => pressure !== null);
    const judged = usable.length === pressures.length ? plausibility(usable, wanted) : { score: unknownMeaning, says: `${unit} is no pressure: say the range, and which reading stands for which pressure` };
    // A line that names its unit says more than one that is only a number.
    const score = understood * judged.score * (known.length > 0 ? 1 : 0.95);
    return { ...proposal, unit, unitNamed: known.length > 0, understood, readings: values, pressures, score, says: judged.says };
  });
}
