import { InvalidArgumentError } from 'commander';
import { parseScaling, type Scaling } from '../calibration/reading-scale.js';
import { signalUnitOf, type SignalUnit } from '../../drivers/signal-unit.js';

/** Options of `calibrate`, from what was typed to what is meant. */
export const unitFlag = (text: string): SignalUnit => {
  const known = signalUnitOf(text);
  if (known === undefined) throw new InvalidArgumentError('It should be a unit such as bar, psi or mA.');
  return known;
};

export const scalingFlag = (text: string): Scaling => {
  const parsed = parseScaling(text);
  if (parsed === null) throw new InvalidArgumentError("It should be written like '4..20 mA = 0..600 bar'.");
  return parsed;
};

export const degreeFlag = (text: string): 1 | 2 => {
  if (text === '1' || text === '2') return Number(text) as 1 | 2;
  throw new InvalidArgumentError('It should be 1 for a straight line or 2 for a quadratic.');
};

export const dayFlag = (text: string): string => {
  // The day itself must exist, not only its digits.
  const day = Date.parse(`${text}T00:00:00Z`);
  if (/^\d{4}-\d{2}-\d{2}$/.test(text) && !Number.isNaN(day) && new Date(day).toISOString().startsWith(text)) return text;
  throw new InvalidArgumentError('It should be a day such as 2027-03-01.');
};
