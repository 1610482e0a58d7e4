import type { ContactReading, FaultReading, Reading } from '../../drivers/driver.js';
import type { Mark } from '../core/trace.js';
import type { Acquired } from './acquire.js';
import { conditioning } from './conditioning.js';
import { ContactWatch } from './contact-watch.js';
import type { Link } from './links.js';
import { setupHint } from './setup-hint.js';
import type { Supervised } from './supervisor.js';

/** From what a supervised link says to what its channels deliver. Fresh for each subscriber: it remembers the switches. */
export function linkTranslation(link: Link): (item: Supervised) => readonly Acquired[] {
  const ofLink = { link: link.name } as const;
  const channels = new Map<string, ((received: Reading | FaultReading) => Acquired)[]>();
  for (const channel of link.channels) {
    const condition = conditioning(channel);
    const sample = (received: Reading | FaultReading): Acquired => {
      const value = received.kind === 'reading' ? received.value : NaN;
      return { kind: 'sample', channel: channel.channel, time: received.time, raw: received.raw, value, ...condition(received) };
    };
    channels.set(channel.value, [...(channels.get(channel.value) ?? []), sample]);
  }
  const hint = setupHint();
  const contacts = new ContactWatch(link.contacts);
  let last = -Infinity;
  // A mark never lies before the sample that it follows, even where a recording is played faster than it was made.
  const mark = (m: Mark): Acquired => ({ kind: 'mark', mark: { ...m, time: Math.max(m.time, last) }, ...ofLink });
  const contactMarks = (reading: ContactReading | null): Acquired[] => (reading === null ? [] : [mark({ time: reading.time, kind: contactMark(reading) })]);
  const contactsLost = (time: number, text: string): Acquired[] => contacts.lost().map((contact) => ({ kind: 'contact-lost', time, contact, text, ...ofLink }));

  return (item) => {
    switch (item.kind) {
      case 'reading':
      case 'fault': {
        const found: Acquired[] = [];
        for (const sample of channels.get(item.channel) ?? []) {
          last = Math.max(last, item.time);
          const made = sample(item);
          found.push(made);
          const advice = made.kind === 'sample' ? hint(item, made.fault) : null;
          if (advice !== null) found.push({ ...advice, ...ofLink });
        }
        if (item.kind === 'reading') found.push(...contacts.read(item).flatMap(contactMarks));
        else found.push(...contacts.missed(item).map((contact): Acquired => ({ kind: 'contact-lost', time: item.time, contact, text: `the ${contact} contact cannot be read (${item.raw || item.fault})`, ...ofLink })));
        return found;
      }
      case 'contact':
        return contactMarks(contacts.hear(item));
      case 'notice':
        return [...(item.code === 'device-restart' ? [mark({ time: item.time, kind: 'device-restart', text: item.text })] : []), { ...item, ...ofLink }];
      case 'mark':
        return [mark(item.mark), ...(item.mark.kind === 'signal-lost' ? contactsLost(item.mark.time, item.mark.text ?? 'the link was lost') : [])];
      case 'dropped':
      case 'state':
        return [{ ...item, ...ofLink }];
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
