import { z } from 'zod';
import { inputSchema, valuesOf, type InputOptions } from '../../drivers/index.js';
import type { Problem } from '../core/problems.js';
import type { Channel, ChannelConfig } from './channel-config.js';
import type { ContactInput } from './contact-settings.js';

/** A link that several channels or contacts share. */
export const instrumentSchema = z.strictObject({
  instrument: z.string({ error: 'should be the name of the instrument' }).trim().min(1, { error: 'should be the name of the instrument' }),
  input: inputSchema,
});
export type InstrumentConfig = z.output<typeof instrumentSchema>;

/** One opening of a port or connection, and everything that is read from it. */
export interface Link {
  readonly name: string;
  /** Where in the bench file its input is written. */
  readonly place: string;
  readonly input: InputOptions;
  readonly channels: readonly Channel[];
  readonly contacts: readonly ContactInput[];
}

/** What a bench file says of its inputs. */
export interface WrittenInputs {
  readonly instruments: readonly InstrumentConfig[];
  readonly channels: readonly ChannelConfig[];
  readonly contacts: readonly ContactInput[];
}

/** The links of a bench, or what is wrong with the names in its file. */
export function linksOf({ instruments, channels, contacts }: WrittenInputs): { links: Link[]; problems: Problem[] } {
  const problems: Problem[] = [];
  const say = (place: string, text: string) => problems.push({ place, text });
  twice(instruments.map(({ instrument }) => instrument), (i, name) => say(`instruments.${i}.instrument`, `'${name}' is the name of another instrument, too`));
  twice(channels.map(({ channel }) => channel), (i, name) => say(`channels.${i}.channel`, `'${name}' is the name of another channel, too; give each a name of its own`));
  const shared = new Map(instruments.map(({ instrument, input }, i) => [instrument, { name: instrument, place: `instruments.${i}.input`, input, channels: [] as Channel[], contacts: [] as ContactInput[] }]));
  const known = [...shared.keys()].join(', ') || 'none';
  const own: Link[] = [];
  channels.forEach((written, i) => {
    const link = written.instrument === undefined ? undefined : shared.get(written.instrument);
    if (written.instrument !== undefined && link === undefined) return say(`channels.${i}.instrument`, `'${written.instrument}' is not one of the instruments of this bench: ${known}`);
    const input = written.input ?? link?.input;
    if (input === undefined) return;
    const values = valuesOf(input);
    const value = written.value ?? (values.length === 1 ? values[0] : written.channel);
    if (value === undefined || !values.includes(value)) return say(`channels.${i}.value`, unknownValue(value, values, written.value === undefined));
    const channel: Channel = { ...written, input, link: link?.name ?? written.channel, value };
    if (link === undefined) own.push({ name: written.channel, place: `channels.${i}.input`, input, channels: [channel], contacts: [] });
    else link.channels.push(channel);
  });
  for (const contact of contacts) {
    const link = shared.get(contact.instrument);
    if (link === undefined) say(`contacts.${contact.contact}.instrument`, `'${contact.instrument}' is not one of the instruments of this bench: ${known}`);
    else if (!valuesOf(link.input).includes(contact.value)) say(`contacts.${contact.contact}.value`, unknownValue(contact.value, valuesOf(link.input), false));
    else link.contacts.push(contact);
  }
  return { links: [...shared.values(), ...own], problems };
}

const unknownValue = (value: string | undefined, values: readonly string[], guessed: boolean): string =>
  guessed ? `missing; the instrument has several values, say which: ${values.join(', ')}` : `'${value}' is not one of the values of this instrument: ${values.join(', ')}`;

function twice(names: readonly string[], found: (index: number, name: string) => void): void {
  names.forEach((name, i) => {
    if (names.indexOf(name) < i) found(i, name);
  });
}

/** The link of one channel that has an input of its own. */
export function ownLink(written: ChannelConfig): Link {
  const { links, problems } = linksOf({ instruments: [], channels: [written], contacts: [] });
  const [link] = links;
  if (link === undefined) throw new Error(problems[0]?.text ?? 'the channel has no input of its own');
  return link;
}

/** s between readings, where the configuration says it. */
export function usualIntervalOf({ input, channels }: Link): number | undefined {
  const told = channels.flatMap(({ usualInterval }) => usualInterval ?? []);
  if (told.length > 0) return Math.min(...told);
  if ('every' in input) return input.every;
  return 'poll' in input ? input.poll?.every : undefined;
}
