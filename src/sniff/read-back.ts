import { parse } from 'yaml';
import type { Clock } from '../../drivers/clock.js';
import type { Wiring } from '../../drivers/wiring.js';
import { acquireLink } from '../acquisition/acquire.js';
import { parseBench } from '../acquisition/bench-file.js';

/** What the bench reads with the file that was found. */
export interface ReadBack {
  /** bar */
  readonly pressures: readonly number[];
  /** Why readings were none, each once. */
  readonly faults: readonly string[];
}

/** Reads with the bench file as the daemon would, until `most` pressures came or `seconds` are over. */
export function readBack(bench: string, wiring: Wiring, clock: Clock, { seconds, most, signal }: { readonly seconds: number; readonly most: number; readonly signal: AbortSignal }): Promise<ReadBack> {
  const [link] = parseBench(parse(bench), 'BENCH.yaml').links;
  const pressures: number[] = [];
  const faults = new Set<string>();
  return new Promise((resolve) => {
    if (link === undefined || signal.aborted) return resolve({ pressures, faults: [] });
    const end = (): void => {
      cancel();
      signal.removeEventListener('abort', end);
      subscription.unsubscribe();
      resolve({ pressures, faults: [...faults] });
    };
    const cancel = clock.after(seconds, end);
    signal.addEventListener('abort', end, { once: true });
    const subscription = acquireLink(link, wiring, clock).subscribe((item) => {
      if (item.kind !== 'sample') return;
      if (item.fault !== undefined) faults.add(item.fault);
      else pressures.push(item.pressure);
      // Not from within the subscription: it may not be there yet.
      if (pressures.length === most) clock.after(0, end);
    });
  });
}
