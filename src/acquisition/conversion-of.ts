import type { Conversion } from '../core/conversion.js';
import { pressureUnitOf } from '../core/units.js';
import type { ChannelConfig } from './channel-config.js';

/**
 * How the readings of a channel become pressure.
 * @throws Error for a unit that is no pressure, without a scaling; the check of a bench file refuses that
 */
export function conversionOf({ unit, scaling, calibration }: Pick<ChannelConfig, 'unit' | 'scaling' | 'calibration'>): Conversion {
  if (scaling === undefined && pressureUnitOf(unit) === undefined) throw new Error(`a channel in ${unit} needs a scaling`);
  return { unit, scaling: scaling ?? null, coefficients: calibration?.coefficients ?? null };
}
