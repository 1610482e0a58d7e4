import type { ImportReport } from './import-options.js';

const names = { comma: 'commas', semicolon: 'semicolons', tab: 'tabs', blanks: 'blanks' } as const;

/** How a file was read, for people: one sentence a line, the plainest facts first. */
export function describeImport(report: ImportReport): string[] {
  const rate = report.interval === null ? '' : `, one each ${report.interval} s`;
  const started = report.start === null ? '' : `, from ${report.start}`;
  const step = report.resolution === null ? '' : `, written in steps of ${report.resolution} bar`;
  return [
    `Read ${report.samples} ${report.samples === 1 ? 'sample' : 'samples'}${rate}${started}: pressure from '${report.pressureColumn}' in ${report.unit}${step}, time from '${report.timeColumn}' (${report.timeFormat}).`,
    `Fields are parted by ${names[report.delimiter]}, numbers have a decimal ${report.decimal}.`,
    ...(report.missing > 0 ? [report.missing === 1 ? 'One sample holds no number to trust and is kept as missing.' : `${report.missing} samples hold no number to trust and are kept as missing.`] : []),
    ...(report.restarts > 0 ? [`The header is repeated ${report.restarts === 1 ? 'once' : `${report.restarts} times`}: the logger started again there.`] : []),
    ...report.skipped.map(({ reason, count, line }) => `Left out: ${count} ${count === 1 ? 'row' : 'rows'} (${reason}), the first in line ${line}.`),
    ...report.notes.map((note) => `${note.charAt(0).toUpperCase()}${note.slice(1)}.`),
  ];
}

/** True where a person should hear how the file was read although nobody asked: it was not plain own format. */
export const isWorthTelling = (report: ImportReport): boolean =>
  report.timeColumn !== 'time_s' || report.pressureColumn !== 'pressure_bar' || report.skipped.length > 0 || report.restarts > 0 || report.missing > 0 || report.notes.length > 0;
