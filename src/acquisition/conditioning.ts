import type { Fault, FaultReading, Reading } from '../../drivers/driver.js';
import { signalUnitOf } from '../../drivers/signal-unit.js';
import { corrected, scaled } from '../core/conversion.js';
import { Flag } from '../core/trace.js';
import { conversionOf } from './conversion-of.js';
import type { ChannelConfig } from './channel-config.js';

/** A reading as a sample. `fault` says why it is flagged, where a word of the drivers fits. */
export interface Conditioned {
  /** bar, calibrated; NaN where there is no pressure. A saturated reading keeps its number: the pressure was no less. */
  readonly pressure: number;
  /** `Flag` bits. */
  readonly flags: number;
  readonly fault?: Fault;
}

const flagOf: Readonly<Record<Fault, number>> = {
  malformed: Flag.unreadable,
  damaged: Flag.unreadable,
  oversize: Flag.unreadable,
  'no-reading': Flag.unreadable,
  'no-answer': Flag.unreadable,
  busy: Flag.unreadable,
  refused: Flag.unreadable,
  checksum: Flag.unreadable,
  'wrong-unit': Flag.unreadable,
  'over-range': Flag.overRange,
  'under-range': Flag.underRange,
  'error-word': Flag.fault,
  implausible: Flag.implausible,
};

const missing = (fault: Fault): Conditioned => ({ pressure: NaN, flags: flagOf[fault], fault });

/** Share of the span that a reading may lie below the lower end before it is no pressure: NE 43's fault limit, 3.6 mA. */
const belowSpan = 0.025;
/** bar. No gauge pressure is below vacuum. */
const vacuum = 1.02;
const aboveRange = 1.5;

/**
 * From what an instrument sent to calibrated bar: unit, scaling, limits of the loop, calibration, plausibility. Pure and
 * repeatable: the same reading and the same channel always give the same sample.
 */
export function conditioning(channel: ChannelConfig): (received: Reading | FaultReading) => Conditioned {
  const { range } = channel;
  const signal = loopSignal(channel);
  const conversion = conversionOf(channel);
  const lowest = Math.min(0, range.lower) - vacuum - belowSpan * (range.upper - range.lower);
  const highest = aboveRange * range.upper;
  return (received) => {
    if (received.kind === 'fault') return missing(received.fault);
    if (received.unit !== null && signalUnitOf(received.unit) !== channel.unit) return missing('wrong-unit');
    const current = signal(received.value);
    if (current !== 'measuring' && current !== 'saturated') return missing(current);
    const plain = scaled(conversion, received.value);
    // Judged before the correction: the limits are those of the instrument.
    if (!(plain >= lowest && plain <= highest)) return missing('implausible');
    const pressure = corrected(conversion, plain);
    return { pressure, flags: current === 'saturated' ? Flag.saturated : Flag.good };
  };
}

/**
 * What a loop current means by NAMUR NE 43 (3.6, 3.8, 20.5 and 21 mA). The bands that the recommendation leaves
 * unassigned are taken on the careful side: 3.6 to 3.8 mA is under range and 20.5 mA and above saturated.
 */
function loopSignal({ unit, scaling, loopLimits }: ChannelConfig): (reading: number) => 'measuring' | 'saturated' | 'under-range' | 'error-word' {
  if (unit !== 'mA' || loopLimits === 'none' || scaling === undefined || Math.min(scaling.lower.reading, scaling.upper.reading) < 3.8) return () => 'measuring';
  return (current) => {
    if (!(current > 3.6) || current >= 21) return 'error-word';
    if (current < 3.8) return 'under-range';
    return current >= 20.5 ? 'saturated' : 'measuring';
  };
}
