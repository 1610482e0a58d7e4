import { Command, Option } from 'commander';
import { localDay, localZone } from '../acquisition/calibration-due.js';
import { calibrate } from '../calibration/calibrate.js';
import { certificateBlock, type CertificateWords } from '../calibration/certificate-block.js';
import { readPoints } from '../calibration/read-points.js';
import type { Scaling } from '../calibration/reading-scale.js';
import { reportText } from '../calibration/report-text.js';
import type { Decimal } from '../core/import/import-options.js';
import { inputError } from '../core/problems.js';
import type { SignalUnit } from '../../drivers/signal-unit.js';
import { readBytes } from '../files/input-file.js';
import { dayFlag, degreeFlag, scalingFlag, unitFlag } from './calibrate-flags.js';
import { pressureFlag, rangeFlag, type InstrumentFlags } from './instrument-flags.js';

interface Flags extends Pick<InstrumentFlags, 'range' | 'resolution'> {
  readonly degree: 1 | 2;
  readonly instrumentSerial?: string;
  readonly certificate?: string;
  readonly laboratory?: string;
  readonly date?: string;
  readonly due?: string;
  readonly referenceUncertainty?: number;
  readonly scaling?: Scaling;
  readonly referenceColumn?: string;
  readonly readingColumn?: string;
  readonly referenceUnit?: SignalUnit;
  readonly readingUnit?: SignalUnit;
  readonly decimal?: Decimal;
  readonly json?: true;
}

/** `calibrate POINTS.csv`: the calibration of a channel from reference and reading. */
export function calibrateCommand(): Command {
  return new Command('calibrate')
    .description('fit the calibration of a transducer to points of reference and reading')
    .argument('<points>', 'table of points: a reference pressure and what the instrument showed there, units in the header')
    .addOption(new Option('--degree <number>', '1 for a straight line, 2 for a quadratic').argParser(degreeFlag).default(1))
    .option('--certificate <number>', 'number of the certificate')
    .option('--instrument-serial <number>', 'serial number of the transducer')
    .option('--laboratory <name>', 'who calibrated it')
    .addOption(new Option('--date <day>', 'day of the calibration').argParser(dayFlag))
    .addOption(new Option('--due <day>', 'last day on which it holds').argParser(dayFlag))
    .addOption(new Option('--range <range>', "range of the transducer, for example '0 to 600 bar'; else what the points cover").argParser(rangeFlag))
    .addOption(new Option('--resolution <pressure>', "smallest step of the reading, for example '0.1 bar'").argParser(pressureFlag('0.1 bar')))
    .addOption(new Option('--reference-uncertainty <pressure>', "expanded uncertainty (k = 2) of the reference, for example '0.2 bar'").argParser(pressureFlag('0.2 bar')))
    .addOption(new Option('--scaling <rule>', "for readings that are no pressure, as the channel has it: '4..20 mA = 0..600 bar'").argParser(scalingFlag))
    .option('--reference-column <name>', 'the reference, by name or by number from 1')
    .option('--reading-column <name>', 'the reading, by name or by number from 1')
    .addOption(new Option('--reference-unit <unit>', 'unit of the reference, where the header does not say').argParser(unitFlag))
    .addOption(new Option('--reading-unit <unit>', 'unit of the reading, where the header does not say').argParser(unitFlag))
    .addOption(new Option('--decimal <sign>', 'decimal sign, where the file does not show it').choices(['point', 'comma']))
    .option('--json', 'print all figures as JSON instead of the block')
    .addHelpText(
      'after',
      `
The report goes to stderr. The channel's calibration block goes to stdout; put it under the channel in the bench file.
Take the points without an older calibration block in force: the correction is for the plain reading.
Points may go up and down and be repeated; hysteresis and repeatability are then told. Runs are found by the order of the
rows, or by a column 'direction' with up and down.
A calibration is as good as the reference and the person who took the points; where rules ask for an accredited
laboratory, this is no substitute for it.

Example:
  dwellkeeper calibrate points.csv --range '0 to 600 bar' --certificate K-2026-0117 --instrument-serial T-40881 --date 2026-03-01 --due 2027-03-01

  points.csv:  reference_bar,reading_bar
               0,0.3
               120,120.5
               ...`,
    )
    .action(run);
}

function run(path: string, flags: Flags): void {
  const file = readPoints(readBytes(path), path, flags);
  const result = calibrate(file.points, { ...flags, referenceUncertainty: (flags.referenceUncertainty ?? 0) / 2 }, path);
  const { words, notes } = certificateWords(flags);
  const block = certificateBlock(words, result, path);
  if (flags.json) return console.log(JSON.stringify({ ...words, referenceUnit: file.referenceUnit, readingUnit: file.readingUnit, ...result, notes: [...file.notes, ...notes] }));
  console.error([reportText(result, file), '', ...notes].join('\n'));
  process.stdout.write(block);
}

/** What stands on the certificate, and what was assumed because nothing was said. */
function certificateWords(flags: Flags): { words: CertificateWords; notes: readonly string[] } {
  const { certificate, instrumentSerial, laboratory, date = localDay(Date.now(), localZone()), due = aYearAfter(date), referenceUncertainty } = flags;
  if (due < date) throw inputError('calibrate', '--due', `'${due}' should not be before the day of the calibration, ${date}`);
  const notes = [
    referenceUncertainty === undefined && 'the uncertainty of the reference itself is not in it; give it with --reference-uncertainty',
    certificate === undefined && "no --certificate: 'in-house calibration' is written in its place",
    instrumentSerial === undefined && "no --instrument-serial: 'not stated' is written in its place",
    flags.date === undefined && `no --date: today, ${date}`,
    flags.due === undefined && `no --due: one year, to ${due}`,
  ].filter((note) => note !== false);
  const words = { certificate: certificate ?? 'in-house calibration', date, due, serial: instrumentSerial ?? 'not stated', ...(laboratory === undefined ? {} : { laboratory }) };
  return { words, notes };
}

/** The day before the same day of the next year, the last one of a year's span. */
function aYearAfter(date: string): string {
  const next = new Date(`${date}T00:00:00Z`);
  next.setUTCFullYear(next.getUTCFullYear() + 1);
  return new Date(next.getTime() - 86_400_000).toISOString().slice(0, 10);
}
