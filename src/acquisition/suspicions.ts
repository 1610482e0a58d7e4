import { blocksOf } from '../../drivers/modbus-options.js';
import { byteCountOf } from '../../drivers/modbus-pdu.js';
import type { InputOptions } from '../../drivers/index.js';
import type { Problem } from '../core/problems.js';
import { pressureUnitOf } from '../core/units.js';
import type { Channel } from './channel-config.js';
import { usualIntervalOf, type Link } from './links.js';

/** What the suspicion about one channel may rest on. */
interface Seen {
  readonly channel: Channel;
  readonly link: Link;
  /** The channel as it was written. */
  readonly written: unknown;
  readonly today: string;
  /** s, the longest real excursion that counts as a spike. */
  readonly spikeWidth: number;
}

type Suspicion = (seen: Seen) => { readonly key: string; readonly text: string } | null;

/** Bits of a character on a serial line, with start, parity and stop. */
const bitsOfCharacter = 11;

const at = (value: unknown, ...path: readonly string[]): unknown =>
  path.reduce<unknown>((part, key) => (typeof part === 'object' && part !== null ? (part as Record<string, unknown>)[key] : undefined), value);
const ms = (seconds: number): string => `${Number((seconds * 1000).toPrecision(3))} ms`;

/** `15000 psi` as the range of readings in bar, or the other way round. */
const rangeInAnotherUnit: Suspicion = ({ channel, written }) => {
  if (channel.scaling !== undefined) return null;
  const text = at(written, 'range', 'upper');
  const unit = typeof text === 'string' ? pressureUnitOf(text.replace(/^[\s\d.eE+-]+/, '')) : undefined;
  if (unit === undefined || unit === channel.unit) return null;
  return { key: 'range', text: `is in ${unit} while the readings are in ${channel.unit}: one of the two may be wrong` };
};

const tooSlowForSpikes: Suspicion = ({ link, spikeWidth }) => {
  const interval = usualIntervalOf(link);
  if (interval === undefined || interval <= spikeWidth / 2) return null;
  return { key: 'input', text: `a reading each ${ms(interval)} cannot show a spike of ${ms(spikeWidth)}: spikes will not be assessable; ask at least each ${ms(spikeWidth / 2)}` };
};

/** `40001` is a name of holding register 1, not an address. */
const manualNumber: Suspicion = ({ channel }) => {
  const value = 'values' in channel.input ? channel.input.values.find(({ value: name }) => name === channel.value) : undefined;
  const first = value === undefined ? undefined : { holding: 40_001, input: 30_001, discrete: 10_001, coil: null }[value.table];
  if (value === undefined || first === undefined || first === null || value.address < first || value.address > first + 9998) return null;
  return { key: 'input', text: `address ${value.address} looks like a manual's name for ${value.table} ${value.address - first + 1}; write address: ${value.address - first + 1} and addressBase: 1` };
};

/** s that a round of questions takes on a serial line, without what the slave needs. */
function roundTime(input: Extract<InputOptions, { driver: 'modbus-rtu' }>): number {
  const characters = blocksOf(input).reduce((sum, block) => sum + 8 + 5 + byteCountOf(block) + 2 * 3.5, 0);
  return (characters * bitsOfCharacter) / input.baudRate;
}

const lineTooSlow: Suspicion = ({ channel: { input } }) => {
  if (input.driver !== 'modbus-rtu' || input.host !== undefined) return null;
  const needed = roundTime(input);
  return needed <= input.every ? null : { key: 'input', text: `one round of questions takes ${ms(needed)} at ${input.baudRate} baud, longer than every: ${ms(input.every)}; polls will be left out` };
};

const overdue: Suspicion = ({ channel: { calibration }, today }) =>
  calibration === undefined || calibration.due >= today ? null : { key: 'calibration', text: `ran out on ${calibration.due}: runs will be inconclusive unless the plan allows it` };

const backToFront: Suspicion = ({ channel: { calibration } }) =>
  calibration === undefined || calibration.date <= calibration.due ? null : { key: 'calibration', text: `is due on ${calibration.due}, before its date ${calibration.date}` };

const suspicions: readonly Suspicion[] = [rangeInAnotherUnit, tooSlowForSpikes, manualNumber, lineTooSlow, overdue, backToFront];

/** What the file says of its channels, in its own order. */
export interface Suspected {
  readonly links: readonly Link[];
  /** Each channel as written, and where. */
  readonly channels: readonly { readonly name: string; readonly place: string; readonly written: unknown }[];
  /** `2027-03-01`, by the calendar of the bench. */
  readonly today: string;
  readonly spikeWidth: number;
}

/** What is possible and yet looks like a mistake; each is a warning, and none stops anything. */
export function suspicionsOf({ links, channels, today, spikeWidth }: Suspected): Problem[] {
  const found = channels.flatMap(({ name, place, written }) => {
    const link = links.find((one) => one.channels.some(({ channel }) => channel === name));
    const channel = link?.channels.find((one) => one.channel === name);
    if (link === undefined || channel === undefined) return [];
    return suspicions.flatMap((suspicion) => {
      const said = suspicion({ channel, link, written, today, spikeWidth });
      return said === null ? [] : [{ place: [place, said.key].filter(Boolean).join('.'), text: said.text }];
    });
  });
  return [...found, ...links.filter(({ channels: used, contacts }) => used.length === 0 && contacts.length === 0).map(({ name, place }) => ({ place: place.replace(/\.input$/, ''), text: `no channel and no contact reads the instrument '${name}'` }))];
}
