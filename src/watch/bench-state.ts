import { statfsSync, statSync } from 'node:fs';
import { dirname } from 'node:path';
import type { LinkPhase } from '../acquisition/link-machine.js';
import type { LinkCounts } from '../acquisition/link-tally.js';
import type { Verdict } from '../core/outcome.js';
import type { Notice } from '../server/bench-feed.js';

/** One input of a bench as it stands. */
export interface ChannelState {
  readonly channel: string;
  readonly link: LinkCounts;
  readonly state: LinkPhase;
  /** s since the newest sample; `null` before the first. */
  readonly age: number | null;
  /** s: older than this is silence. */
  readonly silentAfter: number;
}

/** What waits to be forwarded elsewhere, by whoever forwards. */
export interface ForwarderState {
  readonly target: string;
  /** bytes that wait on the disk. */
  readonly backlog: number;
  /** s: age of the oldest that waits; `null` when nothing does. */
  readonly oldest: number | null;
  readonly delivered: number;
  readonly rejected: number;
  readonly dropped: number;
  /** Samples left out of the oldest part of a long backlog. */
  readonly thinned: number;
  readonly reachable: boolean;
}

/** What alerts came to, by way. */
export interface AlertState {
  readonly way: string;
  readonly sent: number;
  readonly failedAttempts: number;
  readonly givenUp: number;
  readonly waiting: number;
}

/** Everything about one bench that health and metrics tell. */
export interface BenchState {
  readonly bench: string;
  readonly channels: readonly ChannelState[];
  /** True while samples are being written. */
  readonly recording: boolean;
  readonly runs: Readonly<Record<Verdict, number>>;
  readonly events: ReadonlyMap<string, number>;
  readonly notices: readonly Notice[];
  readonly viewers: number;
  /** bytes of the store with its log; `null` where it cannot be seen. */
  readonly storeSize: number | null;
  /** bytes free for this user where the store lies; `null` where it cannot be seen. */
  readonly diskFree: number | null;
  readonly alerts: readonly AlertState[];
  readonly alertsHeld: number;
  readonly forwarders: readonly ForwarderState[];
}

/** bytes of a store and its log. */
export function sizeOfStore(path: string): number | null {
  const main = statSync(path, { throwIfNoEntry: false });
  if (main === undefined) return null;
  return main.size + (statSync(`${path}-wal`, { throwIfNoEntry: false })?.size ?? 0);
}

/** bytes free for this user where a file lies. */
export function freeBeside(path: string): number | null {
  try {
    const { bavail, bsize } = statfsSync(dirname(path));
    return bavail * bsize;
  } catch {
    return null; // a disk that is gone shows as a store that cannot be written
  }
}
