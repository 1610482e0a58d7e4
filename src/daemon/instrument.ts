import { isCalibrationOverdue, localZone } from '../acquisition/calibration-due.js';
import type { ChannelConfig } from '../acquisition/channel-config.js';
import type { Instrument } from '../core/trace.js';
import { identityText } from '../records/instrument-identity.js';

/**
 * What is known of a channel's transducer at a moment (ms since 1970), by the calendar of a time zone. The certificate's
 * uncertainty is expanded with k = 2; the standard uncertainty is half of it.
 */
export function instrumentOf(channel: ChannelConfig, wall: number, timeZone = localZone()): Instrument {
  const { calibration, range, resolution, accuracyClass } = channel;
  return {
    range,
    ...(resolution !== undefined && { resolution }),
    ...(accuracyClass !== undefined && { accuracyClass }),
    ...(calibration !== undefined && {
      identity: identityText(calibration),
      calibrationOverdue: isCalibrationOverdue(calibration.due, wall, timeZone),
      ...(calibration.uncertainty !== undefined && { calibrationUncertainty: calibration.uncertainty / 2 }),
    }),
  };
}
