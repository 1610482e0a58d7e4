import { InvalidArgumentError, Option, type Command } from 'commander';
import { parseQuantity } from '../core/quantity.js';
import type { Instrument } from '../core/trace.js';

/** What is known of the transducer, as options. Pressures in bar, accuracy in % of span. */
export interface InstrumentFlags {
  readonly range?: { readonly lower: number; readonly upper: number };
  readonly accuracy?: number;
  readonly resolution?: number;
  readonly uncertainty?: number;
}

/** A pressure above 0, as an option. @returns bar */
export const pressureFlag = (example: string) => (text: string): number => {
  const value = parseQuantity(text, 'pressure', example);
  if (typeof value === 'string') throw new InvalidArgumentError(value);
  if (!(value > 0)) throw new InvalidArgumentError('It should be above 0.');
  return value;
};

/** `0 to 1000 bar`, as an option. @returns bar */
export const rangeFlag = (text: string): { lower: number; upper: number } => {
  const [from = '', to = ''] = text.split(/\s+to\s+|\.\.+/);
  const upper = parseQuantity(to, 'pressure', '1000 bar');
  // `0 to 1000 bar`: the unit after the upper end holds for both.
  const lower = /[a-z]/i.test(from) ? parseQuantity(from, 'pressure', '0 bar') : parseQuantity(`${from} ${to.replace(/^[\s\d.+-]+/, '')}`, 'pressure', '0 bar');
  if (typeof upper === 'string' || typeof lower === 'string' || !(lower < upper)) throw new InvalidArgumentError("It should be two pressures, for example '0 to 1000 bar'.");
  return { lower, upper };
};

const share = (text: string): number => {
  const value = parseQuantity(text, 'fraction', '0.25 %');
  if (typeof value === 'string' || !(value > 0 && value < 0.5)) throw new InvalidArgumentError("It should be a share of the span, for example '0.25 %'.");
  return value * 100;
};

/** Adds the options that say what the transducer is; a guarded plan needs them. */
export function withInstrumentFlags(command: Command): Command {
  return command
    .addOption(new Option('--range <range>', "range of the transducer, for example '0 to 1000 bar'").argParser(rangeFlag))
    .addOption(new Option('--accuracy <share>', "accuracy class of the transducer, for example '0.25 %' of its span").argParser(share))
    .addOption(new Option('--resolution <pressure>', "smallest step of the reading, for example '0.1 bar'; else it is taken from the readings").argParser(pressureFlag('0.1 bar')))
    .addOption(new Option('--uncertainty <pressure>', "standard uncertainty of the calibration at the test pressure, for example '0.4 bar'").argParser(pressureFlag('0.4 bar')));
}

/** The options as the core takes them; `undefined` where nothing was said. */
export function instrumentOf({ range, accuracy, resolution, uncertainty }: InstrumentFlags): Instrument | undefined {
  const instrument: Instrument = {
    ...(range === undefined ? {} : { range }),
    ...(accuracy === undefined ? {} : { accuracyClass: accuracy }),
    ...(resolution === undefined ? {} : { resolution }),
    ...(uncertainty === undefined ? {} : { calibrationUncertainty: uncertainty }),
  };
  return Object.keys(instrument).length === 0 ? undefined : instrument;
}
