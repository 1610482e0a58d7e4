import { InvalidArgumentError, Option, type Command } from 'commander';
import { dateOrders, timeUnits, type ImportOptions } from '../core/import/import-options.js';
import { pressureUnitOf, pressureUnits, type PressureUnit } from '../core/units.js';

/** What the options below come to. */
export type ImportFlags = ImportOptions;

const unit = (text: string): PressureUnit => {
  const known = pressureUnitOf(text);
  if (known === undefined) throw new InvalidArgumentError(`It should be one of ${pressureUnits.join(', ')}.`);
  return known;
};

/** Adds the options that settle what a trace file leaves open. */
export function withImportFlags(command: Command): Command {
  return command
    .option('--column <name>', 'the pressure column, by name or by number from 1')
    .addOption(new Option('--unit <unit>', 'unit of the pressure column, where the file does not say').argParser(unit))
    .option('--time-column <name>', 'the time column, by name or by number from 1')
    .addOption(new Option('--time-unit <unit>', 'unit of the time column, where the file does not say').choices(timeUnits))
    .addOption(new Option('--date-order <order>', 'whether the day or the month comes first in dates such as 01.02.2026').choices(dateOrders))
    .addOption(new Option('--decimal <sign>', 'decimal sign, where the file does not show it').choices(['point', 'comma']));
}

/** Only the import options out of all options of a command. */
export const importOptionsOf = ({ column, unit, timeColumn, timeUnit, dateOrder, decimal }: ImportFlags): ImportOptions => ({
  column,
  unit,
  timeColumn,
  timeUnit,
  dateOrder,
  decimal,
});
