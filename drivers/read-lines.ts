import type { Observable } from 'rxjs';
import type { Clock } from './clock.js';
import type { Received } from './driver.js';
import type { LineOptions } from './line-options.js';
import { LineSession } from './line-session.js';
import { runSession } from './run-session.js';
import type { Target, Wiring } from './wiring.js';

/** Opens a link and reads lines from it; the same for every kind of link. */
export const readLines = (target: Target, where: string, options: LineOptions, wiring: Wiring, clock: Clock): Observable<Received> =>
  runSession(target, where, wiring, clock, (openedAt, sink) => new LineSession(options, openedAt, sink));
