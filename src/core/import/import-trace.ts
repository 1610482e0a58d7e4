import type { Trace } from '../trace.js';
import { barPer } from '../units.js';
import { placeRestarts } from './clock-runs-back.js';
import { chooseColumns } from './columns.js';
import { decodeText } from './decode-text.js';
import { stepOfDecimals, usualInterval, type GrowingTrace } from './growing-trace.js';
import { readHead } from './head.js';
import type { Imported, ImportOptions } from './import-options.js';
import { isOwnFormat, readOwnFormat, type OwnRead } from './own-format.js';
import { readSamples } from './read-samples.js';
import { findDelimiter } from './rows.js';
import { survey } from './survey.js';
import { refusal } from './unsettled.js';

/**
 * Reads a trace from a file of columns: the project's own `time_s,pressure_bar`, or what a logger wrote. Delimiter,
 * decimal sign, columns, units and dates are found in the file; what it leaves open must come from `options`.
 * Equal times and small steps back are kept as they are; where the clock began anew, what follows is put behind what was there.
 * @param source name of the file, for messages
 * @throws InputError that says what was found and which option settles it
 */
export function importTrace(input: Uint8Array | string, source: string, options: ImportOptions = {}): Imported {
  const bytes = typeof input === 'string' ? undefined : input;
  const own = Object.values(options).every((option) => option === undefined) ? readOwn(bytes ?? new TextEncoder().encode(input as string)) : null;
  return own ? ownImport(own, source) : generalImport(bytes ? decodeText(bytes) : (input as string), source, options);
}

const readOwn = (bytes: Uint8Array): OwnRead | null => (isOwnFormat(bytes) ? readOwnFormat(bytes) : null);

function ownImport({ samples, decimals }: OwnRead, source: string): Imported {
  const { trace, notes } = placed(samples, [], source);
  return {
    trace,
    report: {
      delimiter: 'comma',
      decimal: 'point',
      columns: ['time_s', 'pressure_bar'],
      timeColumn: 'time_s',
      timeFormat: 's',
      pressureColumn: 'pressure_bar',
      unit: 'bar',
      samples: samples.length,
      missing: samples.flagged,
      interval: usualInterval(trace),
      resolution: stepOfDecimals(decimals, 1),
      start: null,
      restarts: 0,
      skipped: [],
      notes,
    },
  };
}

/** The samples as a trace, with what lies behind a restart of the clock put behind what was before it. */
function placed(samples: GrowingTrace, headers: readonly number[], source: string): { trace: Trace; notes: readonly string[] } {
  const trace = samples.trace();
  const { marks, notes } = placeRestarts(trace.time, headers, source);
  return { trace: marks.length > 0 ? { ...trace, marks } : trace, notes };
}

function generalImport(marked: string, source: string, options: ImportOptions): Imported {
  const text = marked.startsWith('\ufeff') ? marked.slice(1) : marked;
  if (text.trim() === '') throw refusal(source, '', 'the file is empty; a trace has a header such as time_s,pressure_bar and a row for each sample');
  if (/^[\0\s]*$/.test(text)) throw refusal(source, '', 'the file holds nothing but zero bytes, perhaps after a power cut; use a good copy');
  const delimiter = findDelimiter(text);
  const head = delimiter && readHead(text, delimiter);
  if (!delimiter || !head) throw refusal(source, '', noTable(text));
  const chosen = chooseColumns(head, source, options);
  const writing = survey(text, delimiter, head.firstLine, chosen, source, options);
  const read = readSamples(text, delimiter, head, chosen, writing, source);
  if (read.samples.length === 0) throw refusal(source, '', 'no row is a sample');
  const { trace, notes } = placed(read.samples, read.headers, source);
  return {
    trace,
    report: {
      delimiter,
      decimal: writing.decimal,
      columns: chosen.columns.map(({ written }) => written),
      timeColumn: chosen.time.kind === 'date-and-clock' ? `${chosen.time.column.written} + ${chosen.time.clock.written}` : chosen.time.column.written,
      timeFormat: { elapsed: chosen.time.kind === 'elapsed' ? chosen.time.unit : '', clock: 'time of day', 'date-time': 'date and time', 'date-and-clock': 'date and time' }[chosen.time.kind],
      pressureColumn: chosen.pressure.written,
      unit: chosen.unit,
      samples: read.samples.length,
      missing: read.samples.flagged,
      interval: usualInterval(trace),
      resolution: stepOfDecimals(read.decimals, barPer(chosen.unit)),
      start: read.time.start,
      restarts: read.restarts,
      skipped: read.skipped,
      notes: [
        ...notes,
        ...(read.time.groupedExample === null ? [] : [`points in times are read as grouping, the last as the decimal point: '${read.time.groupedExample}'`]),
        ...(read.time.wraps === 0 ? [] : [`the time of day went round its end ${read.time.wraps} times and is counted on`]),
      ],
    },
  };
}

/** Why a text holds no samples: only a header, or words where numbers should be. */
function noTable(text: string): string {
  const lines = text.split(/\r\n|\n|\r/).map((line, i) => ({ line: line.trim(), number: i + 1 })).filter(({ line }) => line !== '' && !line.startsWith('#'));
  const [first, second] = lines;
  if (first && !second) return `there is only a header ('${first.line.slice(0, 60)}') and no sample below it`;
  const odd = second ?? first;
  return odd
    ? `line ${odd.number} ('${odd.line.slice(0, 60)}') and those after it hold no time with a number beside it; a sample is for example 12.34,550.2`
    : 'there are only remarks in it and no samples';
}
