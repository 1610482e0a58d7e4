import { once } from 'node:events';
import { Worker } from 'node:worker_threads';
import { demoPlaylist } from '../../simulators/player.js';
import type { Trace } from '../core/trace.js';

/** Which run of the demo's playlist to work out. */
export interface DemoRunWanted {
  readonly index: number;
  readonly seed: number;
}

/** Readings of a run; times in s from its begin, pressures in bar. */
export type DemoRun = Pick<Trace, 'time' | 'pressure' | 'flags'>;

/**
 * The demo's runs, one after the other; every round takes the next seed. The next one is worked out, in a thread of its
 * own, while the present one is played.
 */
export async function* demoRuns(rounds: number): AsyncGenerator<{ readonly summary: string; readonly samples: DemoRun }> {
  const worker = new Worker(new URL('./demo-worker.js', import.meta.url));
  const workOut = async (wanted: DemoRunWanted): Promise<DemoRun> => {
    worker.postMessage(wanted);
    const [samples] = (await once(worker, 'message')) as [DemoRun];
    return samples;
  };
  const wantedAt = (turn: number): DemoRunWanted => ({ index: turn % demoPlaylist.length, seed: 1 + Math.floor(turn / demoPlaylist.length) });
  try {
    const last = rounds * demoPlaylist.length - 1;
    let next = workOut(wantedAt(0));
    for (let turn = 0; turn <= last; turn++) {
      const samples = await next;
      if (turn < last) {
        next = workOut(wantedAt(turn + 1));
        // Heard of when its turn comes; until then it must not count as an error that nobody handles.
        next.catch(() => undefined);
      }
      yield { summary: demoPlaylist[wantedAt(turn).index]?.summary.replace(/^demo: /, '') ?? '', samples };
    }
  } finally {
    await worker.terminate();
  }
}
