import type { BenchRecord } from './bench.js';
import type { Contacts } from './play.js';

/** s that the lid is latched before the first stroke, and after the last vent. */
const lidBefore = 1;
const lidAfter = 3;

/** State of the three contacts at a time of the bench (s): what a careful operator's switches would say. */
export function contactsAt({ cycles }: BenchRecord, time: number): Contacts {
  const within = (from: number, to: number): boolean => time >= from && !(time >= to);
  const first = cycles[0]?.rising ?? NaN;
  const last = cycles.at(-1)?.vented ?? NaN;
  return {
    lidClosed: within(first - lidBefore, last + lidAfter),
    pumpOn: cycles.some((c) => (time >= c.rising && time <= c.stopped) || c.topUps.some((t) => time >= t.at && time <= t.end)),
    ventOpen: !cycles.some((c) => within(c.rising, c.vented)),
  };
}
