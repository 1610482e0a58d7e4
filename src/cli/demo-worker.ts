import { parentPort } from 'node:worker_threads';
import { demoPlaylist } from '../../simulators/player.js';
import { run } from '../../simulators/run-scenario.js';
import type { DemoRun, DemoRunWanted } from './demo-runs.js';

// Physics takes up to a second a run: in a thread of its own, so that the daemon beside it misses no reading.
parentPort?.on('message', ({ index, seed }: DemoRunWanted) => {
  const scenario = demoPlaylist[index];
  if (scenario === undefined) throw new RangeError(`the playlist has no run ${index}`);
  const { time, pressure, flags } = run(scenario, seed).samples;
  parentPort?.postMessage({ time, pressure, ...(flags && { flags }) } satisfies DemoRun);
});
