/** How an instrument writes its decimal sign. */
export type NumberFormat = 'point' | 'comma';

/**
 * Whole-field grammar. A thousands separator counts only in a number that also shows its decimal sign: a bare `1,234`
 * is not guessed. A decimal sign without a digit behind it has lost its digits.
 */
const grammar = (decimal: string, thousands: string) =>
  new RegExp(`^([+-]?)\\s*(\\d+(?:${decimal}\\d+)?|${decimal}\\d+|\\d{1,3}(?:${thousands}\\d{3})+${decimal}\\d+)(?:[eE]([+-]?\\d{1,3}))?$`);

const grammars: Readonly<Record<NumberFormat, RegExp>> = { point: grammar('\\.', ','), comma: grammar(',', '\\.') };

/** The number that a whole field is, or `null` when it is anything else; never the front part of a field. */
export function parseNumber(field: string, format: NumberFormat): number | null {
  // What nearly every line holds, without the cost of the whole grammar.
  if (format === 'point' && /^[+-]?\d+\.\d+$/.test(field)) return Number(field);
  const match = grammars[format].exec(field.trim());
  if (!match) return null;
  const [, sign = '', digits = '', exponent = '0'] = match;
  const plain = format === 'comma' ? digits.replaceAll('.', '').replace(',', '.') : digits.replaceAll(',', '');
  const value = Number(`${sign}${plain}e${exponent}`);
  return Number.isFinite(value) ? value : null;
}
