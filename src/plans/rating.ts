import { inputError } from '../core/problems.js';
import { parseQuantity } from '../core/quantity.js';
import { toBar } from '../core/units.js';

/** A pressure in the unit it was given in: multiples are taken there, so that no conversion is rounded twice. */
export interface Rating {
  readonly value: number;
  /** Units other than psi are kept as bar. */
  readonly unit: 'bar' | 'psi';
  readonly bar: number;
  /** `275 bar`, `4000 psi`. */
  readonly text: string;
}

const tidy = (value: number): number => Number(value.toPrecision(9));

/** A rating from a table. */
export function rated(value: number, unit: 'MPa' | 'bar' | 'psi'): Rating {
  const kept = unit === 'psi' ? 'psi' : 'bar';
  const number = unit === 'MPa' ? tidy(value * 10) : tidy(value);
  return { value: number, unit: kept, bar: toBar(number, kept), text: `${number} ${kept}` };
}

/** `factor` times a rating, in the rating's own unit. */
export const times = (rating: Rating, factor: number): Rating => rated(rating.value * factor, rating.unit);

/** A rating that a person gave. @throws InputError */
export function parseRating(text: string, option: string): Rating {
  const bar = parseQuantity(text, 'pressure', '350 bar');
  if (typeof bar === 'string') throw inputError(option, '', bar);
  if (!(bar >= 1 && bar <= 10_000)) throw inputError(option, '', `'${text}' should be 1 to 10000 bar: the working pressure that is printed on the part`);
  return /psi\s*$/i.test(text) ? rated(parseFloat(text), 'psi') : rated(bar, 'bar');
}

/** The rating in bar as well, where it is in another unit: `4000 psi (275.8 bar)`. */
export const inBothUnits = (rating: Rating): string => (rating.unit === 'bar' ? rating.text : `${rating.text} (${Number(rating.bar.toFixed(1))} bar)`);

/** The weakest of several. */
export const weakest = (ratings: readonly [Rating, ...Rating[]]): Rating => ratings.reduce((least, next) => (next.bar < least.bar ? next : least));
