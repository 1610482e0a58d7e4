import { concatMap, defer, type Observable } from 'rxjs';
import type { Clock } from '../../drivers/clock.js';
import type { Dropped, Fault, Notice } from '../../drivers/driver.js';
import { sourceOf } from '../../drivers/index.js';
import type { Wiring } from '../../drivers/wiring.js';
import type { Mark } from '../core/trace.js';
import type { ChannelConfig } from './channel-config.js';
import type { ContactInput } from './contact-settings.js';
import { linkRules, type LinkState } from './link-machine.js';
import { linkTranslation } from './link-translation.js';
import { ownLink, usualIntervalOf, type Link } from './links.js';
import { supervise } from './supervisor.js';

/** A calibrated reading of one channel, or its place where there is none. */
export interface AcquiredSample {
  readonly kind: 'sample';
  /** Name of the channel. */
  readonly channel: string;
  readonly time: number;
  /** bar, calibrated; NaN where there is no pressure: never 0, never the last value. */
  readonly pressure: number;
  /** `Flag` bits. */
  readonly flags: number;
  /** As received; bytes outside printable ASCII as \xHH. */
  readonly raw: string;
  /** The reading before scaling and calibration, in the unit of the channel; NaN where none could be read. */
  readonly value: number;
  readonly fault?: Fault;
}

/** Something about a link as a whole, by its name. */
interface OfLink {
  readonly link: string;
}

/** A switch that can no longer be read. */
export interface ContactLost extends OfLink {
  readonly kind: 'contact-lost';
  readonly time: number;
  readonly contact: ContactInput['contact'];
  readonly text: string;
}

/** What a link delivers. Times are s on the clock that `acquire` was given; who records keeps the wall-clock anchor. */
export type Acquired =
  | AcquiredSample
  | ({ readonly kind: 'mark'; readonly mark: Mark } & OfLink)
  | ContactLost
  | (Notice & OfLink)
  | (Dropped & OfLink)
  | (LinkState & OfLink);

/**
 * One link from its wire to calibrated samples of all its channels. Cold: subscribing opens, unsubscribing closes. A lost
 * link is a mark and a state, never an error; it is tried again until unsubscribed.
 */
export function acquireLink(link: Link, wiring: Wiring, clock: Clock): Observable<Acquired> {
  const source = sourceOf(link.input);
  const usualInterval = usualIntervalOf(link);
  const rules = { ...linkRules, ...(usualInterval !== undefined && { usualInterval }) };
  return defer(() => supervise(() => source.read(wiring, clock), source.where, clock, rules).pipe(concatMap(linkTranslation(link))));
}

/** A channel with an input of its own. */
export const acquire = (channel: ChannelConfig, wiring: Wiring, clock: Clock): Observable<Acquired> => acquireLink(ownLink(channel), wiring, clock);
