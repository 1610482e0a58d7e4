import { concatMap, defer, type Observable } from 'rxjs';
import type { Clock } from '../../drivers/clock.js';
import type { ContactReading, Dropped, Fault, Notice } from '../../drivers/driver.js';
import { sourceOf } from '../../drivers/index.js';
import type { Wiring } from '../../drivers/wiring.js';
import type { Mark } from '../core/trace.js';
import type { ChannelConfig } from './channel-config.js';
import { conditioning } from './conditioning.js';
import { linkRules, type LinkState } from './link-machine.js';
import { setupHint } from './setup-hint.js';
import { supervise, type Supervised } from './supervisor.js';

/** What a channel delivers. Times are s on the clock that `acquire` was given; who records keeps the wall-clock anchor. */
export type Acquired =
  | {
      readonly kind: 'sample';
      readonly time: number;
      /** bar, calibrated; NaN where there is no pressure: never 0, never the last value. */
      readonly pressure: number;
      /** `Flag` bits. */
      readonly flags: number;
      /** As received; bytes outside printable ASCII as \xHH. */
      readonly raw: string;
      readonly fault?: Fault;
    }
  | { readonly kind: 'mark'; readonly mark: Mark }
  | Notice
  | Dropped
  | LinkState;

/**
 * One channel from its wire to calibrated samples. Cold: subscribing opens, unsubscribing closes. A lost link is a mark
 * and a state, never an error; it is tried again until unsubscribed.
 */
export function acquire(channel: ChannelConfig, wiring: Wiring, clock: Clock): Observable<Acquired> {
  const source = sourceOf(channel.input);
  const rules = { ...linkRules, ...(channel.usualInterval !== undefined && { usualInterval: channel.usualInterval }) };
  return defer(() => {
    const acquired = translation(channel);
    return supervise(() => source.read(wiring, clock), source.where, clock, rules).pipe(concatMap(acquired));
  });
}

/** Fresh for each subscriber: it remembers the contacts, whose changes are marks. */
function translation(channel: ChannelConfig): (item: Supervised) => readonly Acquired[] {
  const condition = conditioning(channel);
  const hint = setupHint();
  const contacts = new Map<ContactReading['contact'], ContactReading['state']>();
  let last = -Infinity;
  // A mark never lies before the sample that it follows, even where a recording is played faster than it was made.
  const mark = (m: Mark): Acquired => ({ kind: 'mark', mark: { ...m, time: Math.max(m.time, last) } });
  return (item) => {
    switch (item.kind) {
      case 'reading':
      case 'fault': {
        last = Math.max(last, item.time);
        const sample: Acquired = { kind: 'sample', time: item.time, raw: item.raw, ...condition(item) };
        const advice = hint(item, sample.fault);
        return advice === null ? [sample] : [sample, advice];
      }
      case 'contact':
        if (contacts.get(item.contact) === item.state) return [];
        contacts.set(item.contact, item.state);
        return [mark({ time: item.time, kind: contactMark(item) })];
      case 'notice':
        return item.code === 'device-restart' ? [mark({ time: item.time, kind: 'device-restart', text: item.text }), item] : [item];
      case 'mark':
        return [mark(item.mark)];
      case 'dropped':
      case 'state':
        return [item];
    }
  };
}

function contactMark({ contact, state }: ContactReading): Mark['kind'] {
  switch (contact) {
    case 'lid':
      return state === 'open' ? 'lid-open' : 'lid-closed';
    case 'pump':
      return state === 'on' ? 'pump-on' : 'pump-off';
    case 'vent':
      return state === 'open' ? 'vent-open' : 'vent-closed';
  }
}
