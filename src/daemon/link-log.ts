import type { Logger } from 'pino';
import type { Acquired } from '../acquisition/acquire.js';

/** Writes what links say into the log. Samples go into the store; a poll left out is counted, and not worth a line each. */
export function logLink(log: Logger, item: Acquired): void {
  switch (item.kind) {
    case 'state':
      log.info({ state: item.state, link: item.link }, item.text);
      return;
    case 'notice':
      log[item.code === 'opened' ? 'info' : item.code === 'poll-skipped' ? 'debug' : 'warn']({ code: item.code, link: item.link }, item.text);
      return;
    case 'contact-lost':
      log.warn({ contact: item.contact, link: item.link }, item.text);
      return;
    case 'dropped':
      log.debug({ why: item.why, raw: item.raw, link: item.link }, 'dropped');
      return;
    case 'sample':
    case 'mark':
      return;
  }
}
