import { Observable, Subscription } from 'rxjs';
import type { Clock } from '../../drivers/clock.js';
import type { Received } from '../../drivers/driver.js';
import { LinkError } from '../../drivers/wiring.js';
import type { Mark } from '../core/trace.js';
import { LinkMachine, linkRules, type LinkActions, type LinkRules, type LinkState } from './link-machine.js';

export type Supervised = Received | LinkState | { readonly kind: 'mark'; readonly mark: Mark };

/**
 * Keeps one link alive: opens it, judges its life by the age of its data, closes and opens it again. One timer, one
 * machine, at most one open link; what an abandoned opening still says is not heard. Never errs for a link that fails; completes
 * when the source is over; unsubscribing closes the link and ends every timer.
 * @param read opens the link, anew for each subscription
 */
export const supervise = (read: () => Observable<Received>, where: string, clock: Clock, rules: LinkRules = linkRules): Observable<Supervised> =>
  new Observable((subscriber) => {
    let link = new Subscription();
    let cancel = () => {};
    let armed = Infinity;
    const wanted: (() => unknown)[] = [];
    // What the machine wants is done after it has come to rest: an opening that fails at once must not re-enter it.
    const actions: LinkActions = {
      open: () => wanted.push(open),
      close: () => link.unsubscribe(),
      tell: (item) => subscriber.next(item),
    };
    const machine = new LinkMachine(where, actions, rules);
    let resting = true;
    const attempt = (work: () => unknown) => {
      wanted.push(work);
      if (!resting) return;
      resting = false;
      try {
        for (let next = wanted.shift(); next !== undefined && !subscriber.closed; next = wanted.shift()) next();
        arm();
      } catch (error) {
        subscriber.error(error);
      } finally {
        resting = true;
      }
    };
    const arm = () => {
      const due = machine.due();
      if (due >= armed || subscriber.closed) return;
      cancel();
      armed = due;
      cancel = clock.after(due - clock.now(), () => {
        armed = Infinity;
        attempt(() => machine.at(clock.now()));
      });
    };
    const open = () => {
      link.unsubscribe();
      link = new Subscription();
      const own = link;
      own.add(
        read().subscribe({
          next: (item) => attempt(() => hear(item, own)),
          error: (error: unknown) => attempt(() => own.closed || machine.lost(clock.now(), reasonOf(error), error instanceof LinkError && error.code === 'busy')),
          complete: () =>
            attempt(() => {
              if (own.closed) return;
              machine.ended(clock.now());
              subscriber.complete();
            }),
        }),
      );
    };
    const hear = (item: Received, from: Subscription) => {
      if (!from.closed) {
        if (item.kind === 'notice' && item.code === 'opened') machine.opened(item.time);
        else if (isLife(item)) machine.data(Math.min(item.time, clock.now()));
      }
      subscriber.next(item);
    };
    subscriber.add(() => {
      cancel();
      machine.stop();
    });
    attempt(() => machine.start(clock.now()));
  });

/** A mistake of the program ends an opening, not the recording of weeks: it is said, and tried again. */
const reasonOf = (error: unknown): string =>
  error instanceof LinkError ? error.message : `unexpected error (${error instanceof Error ? error.message : String(error)})`;

/** Whether an instrument sent it. A time-out is no sign of life. */
const isLife = (item: Received): boolean =>
  item.kind === 'reading' || item.kind === 'contact' || (item.kind === 'fault' && item.fault !== 'no-answer') || (item.kind === 'dropped' && item.why !== 'cut-off');
