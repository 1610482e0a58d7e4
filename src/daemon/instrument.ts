import { isCalibrationOverdue, localZone } from '../acquisition/calibration-due.js';
import type { Calibration, ChannelConfig } from '../acquisition/channel-config.js';
import { conversionOf } from '../acquisition/conversion-of.js';
import type { CalibrationInForce, Instrument } from '../core/trace.js';
import { identityText } from '../records/instrument-identity.js';

/**
 * What is known of a channel's transducer at a moment (ms since 1970), by the calendar of a time zone (this computer's). The certificate's
 * uncertainty is expanded with k = 2; the standard uncertainty is half of it.
 */
export function instrumentOf(channel: ChannelConfig, wall: number, timeZone?: string): Instrument {
  const { calibration, range, resolution, accuracyClass } = channel;
  return {
    range,
    conversion: conversionOf(channel),
    ...(resolution !== undefined && { resolution }),
    ...(accuracyClass !== undefined && { accuracyClass }),
    ...(calibration !== undefined && {
      identity: identityText(calibration),
      calibration: inForce(calibration),
      calibrationOverdue: isCalibrationOverdue(calibration.due, wall, timeZone ?? localZone()),
      ...(calibration.uncertainty !== undefined && { calibrationUncertainty: calibration.uncertainty / 2 }),
    }),
  };
}

const inForce = ({ certificate, serial, date, due, laboratory, uncertainty }: Calibration): CalibrationInForce => ({
  certificate, serial, date, due, ...(laboratory !== undefined && { laboratory }), ...(uncertainty !== undefined && { uncertainty }),
});
