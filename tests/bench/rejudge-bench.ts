/**
 * How fast a library of recorded runs is judged again: `npm run bench -- rejudge` (RUNS=200 before it for fewer). A store of runs of 60 s of hold at
 * 100 Hz is made; then it is only read, judged in one thread, and judged in as many threads as there are cores. Prints;
 * asserts nothing.
 */
import { mkdtempSync, rmSync } from 'node:fs';
import { availableParallelism, tmpdir } from 'node:os';
import { join } from 'node:path';
import { parseThresholds } from '../../src/core/thresholds.js';
import { whatWouldFlip } from '../../src/tuning/what-would-flip.js';
import { openStore } from '../../src/records/store.js';
import { extentOf } from '../../src/records/run-record.js';
import { runScenario } from '../../simulators/run-scenario.js';
import { storeOfRuns, testSoftware } from '../tuning/store-of-runs.js';

const count = Number(process.env['RUNS'] ?? 1000);
const folder = mkdtempSync(join(tmpdir(), 'dwellkeeper-rejudge-'));
try {
  const path = join(folder, 'records.sqlite');
  // A few different runs again and again: the simulation would take far longer than what is measured.
  const different: ReturnType<typeof runScenario>[] = [];
  for (let seed = 1; different.length < 4; seed++) {
    const run = runScenario('glitch-shower', seed);
    if (run.plan.holdTime === 60 && run.setup.transducer.rate === 100) different.push(run);
  }
  const stored = storeOfRuns(path, Array.from({ length: count }, (_, i) => different[i % different.length] as (typeof different)[number]));
  const address = { kind: 'store', path, software: testSoftware } as const;
  const thresholds = parseThresholds({ thresholds: 'other', spikeHeight: '2 %', settleSlope: '0.5 %/min' }, 'other');

  const timed = async (work: () => Promise<number> | number): Promise<{ seconds: number; cpu: number; result: number }> => {
    const [began, used] = [performance.now(), process.cpuUsage()];
    const result = await work();
    const { user, system } = process.cpuUsage(used);
    return { seconds: (performance.now() - began) / 1000, cpu: (user + system) / 1e6, result };
  };
  const readOnly = (): number => {
    const { store } = openStore(path, { software: testSoftware, readOnly: true });
    let samples = 0;
    for (const { number } of stored) {
      const run = store.getRun(number);
      if (!run?.received) continue;
      const { from, to } = extentOf(run);
      for (const { time } of store.traces.inTurn(run.channel, from, to, run.received)) samples += time.length;
    }
    store.close();
    return samples;
  };
  const judged = async (threads: number): Promise<number> => {
    let flips = 0;
    for await (const { run } of whatWouldFlip(address, { thresholds }, { threads })) if ('result' in run && run.result.change.before.verdict !== run.result.change.after.verdict) flips++;
    return flips;
  };

  readOnly();
  const bare = await timed(readOnly);
  const one = await timed(() => judged(0));
  const cores = availableParallelism();
  const all = await timed(() => judged(cores));
  const show = ({ seconds, cpu }: { seconds: number; cpu: number }) => `${seconds.toFixed(1).padStart(7)} s  ${cpu.toFixed(1).padStart(7)} s of processor`;
  console.log(`rejudge: ${stored.length} runs, ${bare.result} samples, ${one.result} flips`);
  console.log(`  only read            ${show(bare)}`);
  console.log(`  judged, this thread  ${show(one)}   ${(one.cpu / bare.cpu).toFixed(1)} x the reading`);
  console.log(`  judged, ${String(cores).padStart(2)} threads   ${show(all)}   ${(one.seconds / all.seconds).toFixed(2)} x as fast as one${all.result === one.result ? '' : '; OTHER FLIPS'}`);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
