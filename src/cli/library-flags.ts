import { cpus } from 'node:os';
import { InvalidArgumentError, Option, type Command } from 'commander';
import type { Verdict } from '../core/outcome.js';
import { knownTruths } from '../records/run-labels.js';
import { libraryAt, type FolderReading } from '../tuning/open-library.js';
import type { LibraryAddress, LibraryChoice } from '../tuning/run-library.js';
import { dayChoice, numberRange } from './export-choice.js';
import { importOptionsOf, withImportFlags, type ImportFlags } from './import-flags.js';
import { instrumentOf, withInstrumentFlags, type InstrumentFlags } from './instrument-flags.js';
import { software } from './program.js';

/** Which runs of a store or folder are meant, and how traces of a folder are read. */
export interface LibraryFlags extends ImportFlags, InstrumentFlags {
  readonly run: readonly (readonly [number, number])[];
  readonly under?: string;
  readonly hose?: string;
  readonly bench?: string;
  readonly since?: string;
  readonly until?: string;
  readonly verdict?: Verdict;
  readonly label?: LibraryChoice['label'];
  readonly jobs: number;
  readonly progress?: true;
}

const threads = (text: string): number => {
  const value = Number(text);
  if (!Number.isInteger(value) || value < 1 || value > 256) throw new InvalidArgumentError('It should be a whole number from 1 to 256.');
  return value;
};

/** Adds the options that choose recorded runs. */
export function withLibraryFlags(command: Command): Command {
  command
    .option('--run <numbers>', 'a run or a range, for example 12 or 12-20; may be given again', (text: string, sofar: LibraryFlags['run']) => [...sofar, numberRange(text)], [])
    .option('--under <plan>', 'only runs under the plan of this name, or of a name that begins so')
    .option('--hose <hose>', 'only runs of this hose')
    .option('--bench <name>', 'only runs of this bench')
    .option('--since <day>', 'only runs from this day on, for example 2027-03-01 (the calendar of this computer)')
    .option('--until <day>', 'only runs up to this day, the day included')
    .addOption(new Option('--verdict <verdict>', 'only runs that came to this').choices(['pass', 'fail', 'inconclusive']))
    .addOption(new Option('--label <label>', 'only runs that are labelled so').choices([...knownTruths, 'labelled', 'not labelled']))
    .addOption(new Option('--jobs <number>', 'how many runs are judged at once').argParser(threads).default(cpus().length, 'one for each core'))
    .option('--progress', 'tell on stderr how far it is, also where that is not a terminal');
  return withInstrumentFlags(withImportFlags(command));
}

/** @throws InputError */
export const choiceOf = ({ run, under, hose, bench, since, until, verdict, label }: LibraryFlags): LibraryChoice => ({
  ...(run.length > 0 && { numbers: run }),
  ...(under !== undefined && { plan: under }),
  ...(hose !== undefined && { hose }),
  ...(bench !== undefined && { bench }),
  ...dayChoice(since, until),
  ...(verdict !== undefined && { verdict }),
  ...(label !== undefined && { label }),
});

/** Where the library is. @param truthful take the instrument of a trace from its NAME.truth.json */
export function addressOf(path: string, flags: LibraryFlags, truthful = false): LibraryAddress {
  const instrument = instrumentOf(flags);
  return libraryAt(path, software, { options: importOptionsOf(flags), truthful, ...(instrument && { instrument }) } satisfies FolderReading);
}

/** Ctrl-C ends the work and leaves what is on the disk as it is. */
export function untilInterrupted(): { readonly signal: AbortSignal; readonly done: () => void } {
  const controller = new AbortController();
  const stop = (): void => controller.abort();
  process.once('SIGINT', stop);
  return { signal: controller.signal, done: () => process.removeListener('SIGINT', stop) };
}

/** Exit code of work that was interrupted: 128 and the number of the signal, as shells have it. */
export const interrupted = 130;
