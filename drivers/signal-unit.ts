import { pressureUnitOf, type PressureUnit } from '../src/core/units.js';

/** A unit that an instrument may send: a pressure, or the electrical signal of a transducer. */
export type SignalUnit = PressureUnit | 'mA' | 'V' | 'mV' | '%' | 'counts';

const electrical: Readonly<Record<string, SignalUnit>> = { ma: 'mA', v: 'V', mv: 'mV', '%': '%', counts: 'counts' };

/** Spellings met so far: an instrument sends the same one in every line. What is no unit is not kept. */
const met = new Map<string, SignalUnit>();

/** The unit that a text names, or `undefined` when it names none. */
export function signalUnitOf(text: string): SignalUnit | undefined {
  const before = met.get(text);
  if (before !== undefined) return before;
  const unit = pressureUnitOf(text) ?? electrical[text.trim().toLowerCase()];
  // A text can name a unit in endless ways (blanks, full stops): a few are enough.
  if (unit !== undefined && met.size < 100) met.set(text, unit);
  return unit;
}
