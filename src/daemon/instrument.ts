import type { ChannelConfig } from '../acquisition/channel-config.js';
import type { Instrument } from '../core/trace.js';

/** `2027-03-01` of a moment (ms since 1970), on the calendar of the place where the bench stands. */
export function localDay(wall: number): string {
  const date = new Date(wall);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

/**
 * What is known of a channel's transducer at a moment (ms since 1970). A calibration holds until the end of its due
 * day, local time. The certificate's uncertainty is expanded with k = 2; the standard uncertainty is half of it.
 */
export function instrumentOf(channel: ChannelConfig, wall: number): Instrument {
  const { calibration, range, resolution, accuracyClass } = channel;
  return {
    range,
    ...(resolution !== undefined && { resolution }),
    ...(accuracyClass !== undefined && { accuracyClass }),
    ...(calibration !== undefined && {
      identity: `transducer ${calibration.serial}, certificate ${calibration.certificate} of ${calibration.date}, due ${calibration.due}`,
      calibrationOverdue: localDay(wall) > calibration.due,
      ...(calibration.uncertainty !== undefined && { calibrationUncertainty: calibration.uncertainty / 2 }),
    }),
  };
}
