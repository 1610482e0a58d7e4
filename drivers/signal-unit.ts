import { pressureUnitOf, type PressureUnit } from '../src/core/units.js';

/** A unit that an instrument may send: a pressure, or the electrical signal of a transducer. */
export type SignalUnit = PressureUnit | 'mA' | 'V' | 'mV' | '%' | 'counts';

const electrical: Readonly<Record<string, SignalUnit>> = { ma: 'mA', v: 'V', mv: 'mV', '%': '%', counts: 'counts' };

/** The unit that a text names, or `undefined` when it names none. */
export function signalUnitOf(text: string): SignalUnit | undefined {
  return pressureUnitOf(text) ?? electrical[text.trim().toLowerCase()];
}
