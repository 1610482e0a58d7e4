import { pressureUnitOf, toBar } from '../core/units.js';
import { signalUnitOf, type SignalUnit } from '../../drivers/signal-unit.js';
import { parseQuantity } from '../core/quantity.js';

/** Which reading stands for which pressure, as the `scaling` of a channel says it. */
export interface Scaling {
  readonly unit: SignalUnit;
  readonly lower: { readonly reading: number; readonly pressure: number };
  readonly upper: { readonly reading: number; readonly pressure: number };
}

const form = /^\s*(-?[\d.eE+]+)\s*(?:\.\.+|to)\s*(-?[\d.eE+]+)\s*(\S+)\s*=\s*(-?[\d.eE+]+)\s*(?:\.\.+|to)\s*(-?[\d.eE+]+)\s*(\S+)\s*$/;

/** `4..20 mA = 0..600 bar`; `null` where the text is nothing of the kind. */
export function parseScaling(text: string): Scaling | null {
  const [, from = '', to = '', signal = '', lowest = '', highest = '', unit = ''] = form.exec(text) ?? [];
  const known = signalUnitOf(signal);
  const lower = parseQuantity(`${lowest} ${unit}`, 'pressure', '0 bar');
  const upper = parseQuantity(`${highest} ${unit}`, 'pressure', '600 bar');
  const readings = [Number(from), Number(to)] as const;
  if (known === undefined || typeof lower === 'string' || typeof upper === 'string' || from === '' || !readings.every(Number.isFinite) || readings[0] === readings[1] || lower === upper) return null;
  return { unit: known, lower: { reading: readings[0], pressure: lower }, upper: { reading: readings[1], pressure: upper } };
}

/** From a reading in `unit` to bar; `null` where the unit is no pressure and there is no scaling for it. */
export function toPressure(unit: SignalUnit, scaling: Scaling | undefined): ((reading: number) => number) | null {
  const pressure = pressureUnitOf(unit);
  if (scaling === undefined) return pressure === undefined ? null : (reading) => toBar(reading, pressure);
  if (scaling.unit !== unit) return null;
  const { lower, upper } = scaling;
  return (reading) => lower.pressure + ((reading - lower.reading) * (upper.pressure - lower.pressure)) / (upper.reading - lower.reading);
}
