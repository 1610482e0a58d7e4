import { standardThresholds } from '../../src/core/thresholds.js';
import { openStore } from '../../src/records/store.js';
import { heldPressure, morning } from './held-pressure.js';

/**
 * Records 1,000 samples a second of trace time, as fast as it can, until it is killed: `node entry STORE`. Prints
 * `taken N` when N samples were given to the writer, `on disk N` when N are acknowledged as safe, `sealed R` after
 * run R was sealed. Output to a pipe is synchronous, so what is printed was so.
 */
const path = process.argv[2] ?? '';
const { store } = openStore(path, { software: 'endless' });
const channel = store.channel('bench 1', 'pressure', 'bar').id;
const thresholds = store.keepVersion('thresholds', standardThresholds);
const open = store.resumeOpenRun(channel);
const outcome = {
  verdict: 'inconclusive', findings: [], cycles: [], events: [], notes: ['the computer stopped'], plan: null, thresholds: 'standard',
  signal: { samples: 0, interval: null, resolution: null, noise: null, missing: 0, duplicates: 0, backward: 0 },
} as const;
if (open) store.interruptRun(open.run.number, { to: Math.max(open.run.from, open.trace.time.at(-1) ?? 0), outcome });
const from = store.clockStart();
const writer = store.beginSegment(channel, { time: from, wall: morning + from * 1000 });
process.stdout.write(`from ${from}\n`);
let run: number | null = null;
let told = 0;
let commits = 0;
/** After so many commits it takes its time: a machine on which the killer is slow shall not get a store of gigabytes. */
const hurried = 12;
const pause = new Int32Array(new SharedArrayBuffer(4));
for (let i = 0; ; i++) {
  const time = from + i / 1000;
  writer.append(time, heldPressure(i), 0);
  if (i % 100 !== 0) continue;
  process.stdout.write(`taken ${i + 1}\n`);
  store.tick(time);
  const safe = i + 1 - writer.waiting().samples.time.length;
  if (safe > told) {
    process.stdout.write(`on disk ${(told = safe)}\n`);
    commits++;
  }
  if (commits > hurried) Atomics.wait(pause, 0, 0, 10);
  if (i % 5000 === 1000) run = store.openRun({ channel, from: time, plan: null, thresholds, instrument: null });
  if (i % 5000 === 4000 && run !== null) {
    store.finishRun(run, { to: time, outcome });
    process.stdout.write(`sealed ${run}\n`);
  }
}
