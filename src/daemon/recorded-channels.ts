import type { Channel } from '../acquisition/channel-config.js';
import { conversionOf } from '../acquisition/conversion-of.js';
import type { Conversion } from '../core/conversion.js';
import type { Store } from '../records/store.js';
import { openRunOf, type LeftOpen } from './left-open.js';

/** A channel as it is recorded. */
export interface RecordedChannel {
  readonly id: number;
  /** How its readings become pressure. */
  readonly conversion: Conversion;
}

/** The channels of a bench in the store, by name; those that are new are made. */
export const recordedChannels = (store: Store, bench: string, channels: readonly Channel[]): ReadonlyMap<string, RecordedChannel> =>
  new Map(channels.map((channel) => [channel.channel, { id: store.channel(bench, channel.channel, channel.unit).id, conversion: conversionOf(channel) }]));

/** The run that an earlier session left open on one of these channels. */
export function leftOpenOn(store: Store, channels: readonly Channel[], recorded: ReadonlyMap<string, RecordedChannel>): { channel: Channel; id: number; run: LeftOpen } | null {
  for (const channel of channels) {
    const id = recorded.get(channel.channel)?.id;
    const run = id === undefined ? null : openRunOf(store, id);
    if (id !== undefined && run !== null) return { channel, id, run };
  }
  return null;
}
