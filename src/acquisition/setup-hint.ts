import type { Fault, FaultReading, Notice, Reading } from '../../drivers/driver.js';

/** s before the same hint is given again while numbers go on being no pressure. */
const again = 60;

/**
 * Says what a number that is no pressure would be if a usual mistake had been made in the options of the driver. Fresh
 * for each link; told once and not for each sample.
 */
export function setupHint(): (received: Reading | FaultReading, fault: Fault | undefined) => Notice | null {
  const told = new Map<string, number>();
  return ({ time, channel, otherwise }, fault) => {
    if (fault !== 'implausible' || otherwise === undefined || time - (told.get(channel) ?? -Infinity) < again) return null;
    told.set(channel, time);
    return { kind: 'notice', time, code: 'check-setup', text: `the readings of ${channel} are no pressure of this channel; ${otherwise}` };
  };
}
