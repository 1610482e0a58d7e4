/**
 * How fast a trace is judged, against a bare loop that does a rolling regression and a rolling minimum and maximum over
 * the same array (window 100). Rounds are interleaved; medians and ratios are printed, nothing is asserted.
 */
import { from, lastValueFrom, toArray } from 'rxjs';
import { judge } from '../../src/core/judge.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { readRunBatches } from '../../src/operators/read-run-batches.js';
import { runScenario } from '../../simulators/run-scenario.js';
import type { Trace } from '../../src/core/trace.js';

const rounds = 15;
const runs = ['pass-plain', 'leak-orifice', 'spikes-in-rise', 'glitch-shower', 'leak-starts-mid-hold'].flatMap((name) =>
  [1, 2, 3, 4].map((seed) => runScenario(name, seed)));

/** What a bare loop costs: sums for a regression and two deques over the last 100 samples. */
function bareLoop({ time, pressure }: Trace): number {
  const window = 100;
  let st = 0, sp = 0, stt = 0, stp = 0, sum = 0;
  const low = new Int32Array(time.length), high = new Int32Array(time.length);
  let lowFrom = 0, lowTo = 0, highFrom = 0, highTo = 0;
  for (let i = 0; i < time.length; i++) {
    const t = time[i] as number, p = pressure[i] as number;
    st += t; sp += p; stt += t * t; stp += t * p;
    if (i >= window) {
      const u = time[i - window] as number, q = pressure[i - window] as number;
      st -= u; sp -= q; stt -= u * u; stp -= u * q;
    }
    while (lowTo > lowFrom && (pressure[low[lowTo - 1] as number] as number) >= p) lowTo--;
    low[lowTo++] = i;
    if ((low[lowFrom] as number) <= i - window) lowFrom++;
    while (highTo > highFrom && (pressure[high[highTo - 1] as number] as number) <= p) highTo--;
    high[highTo++] = i;
    if ((high[highFrom] as number) <= i - window) highFrom++;
    const n = Math.min(i + 1, window);
    const d = n * stt - st * st;
    sum += (d > 0 ? (n * stp - st * sp) / d : 0) + (pressure[low[lowFrom] as number] as number) + (pressure[high[highFrom] as number] as number);
  }
  return sum;
}

const seconds = (work: () => void): number => {
  const began = process.hrtime.bigint();
  work();
  return Number(process.hrtime.bigint() - began) / 1e9;
};
const median = (values: number[]): number => values.sort((a, b) => a - b)[values.length >> 1] as number;

/** The same trace through RxJS in batches of 100 readings. */
async function throughOperators(trace: Trace, plan: (typeof runs)[number]['plan']): Promise<void> {
  const batches = [];
  for (let i = 0; i < trace.time.length; i += 100) {
    const batch = [];
    for (let k = i; k < Math.min(i + 100, trace.time.length); k++) {
      batch.push({ time: trace.time[k] as number, pressure: trace.pressure[k] as number, flags: 0 });
    }
    batches.push(batch);
  }
  await lastValueFrom(from(batches).pipe(readRunBatches({ plan, thresholds: standardThresholds }), toArray()));
}

const samples = runs.reduce((n, r) => n + r.samples.time.length, 0);
const bare: number[] = [], whole: number[] = [], long: number[] = [];
// One long recording: an hour vented with a test at its end shows the cost of a sample without the fit's share.
const idle = 360_000;
const plain = runs[0] as (typeof runs)[number];
/** Noise of about 0.03 bar in steps of 0.01, the same at every call. */
const quiet = (i: number): number => {
  const u = (k: number) => ((Math.imul(i * 3 + k, 2654435761) >>> 8) & 0xffff) / 65_536;
  return Math.round(6 * (u(0) + u(1) + u(2) - 1.5)) * 0.01;
};
const longTrace: Trace = {
  time: Float64Array.from({ length: idle + plain.samples.time.length }, (_, i) => (i < idle ? i * 0.01 : 3600 + (plain.samples.time[i - idle] as number))),
  pressure: Float64Array.from({ length: idle + plain.samples.time.length }, (_, i) => (i < idle ? quiet(i) : (plain.samples.pressure[i - idle] as number))),
};
let keep = 0;
const bareLong: number[] = [];
for (let round = 0; round < rounds; round++) {
  bare.push(seconds(() => { for (const r of runs) keep += bareLoop(r.samples); }));
  whole.push(seconds(() => { for (const r of runs) keep += judge(r.samples, r.plan, standardThresholds).length; }));
  bareLong.push(seconds(() => { keep += bareLoop(longTrace); }));
  long.push(seconds(() => { keep += judge(longTrace, plain.plan, standardThresholds).length; }));
}
const rate = (n: number, s: number) => `${(n / s / 1e6).toFixed(2)} M samples/s`;
console.log(`judge: ${runs.length} runs, ${samples} samples, ${rounds} rounds (${keep === 0 ? '' : 'checked'})`);
console.log(`  bare loop            ${rate(samples, median(bare))}`);
console.log(`  judge, whole runs    ${rate(samples, median(whole))}   ${(median(whole) / median(bare)).toFixed(2)} x the loop's time`);
console.log(`  judge, hour + run    ${rate(longTrace.time.length, median(long))}   ${(median(long) / median(bareLong)).toFixed(2)} x the loop's time`);
const rx: number[] = [], direct: number[] = [];
for (let round = 0; round < 7; round++) {
  const began = process.hrtime.bigint();
  for (const r of runs) await throughOperators(r.samples, r.plan);
  rx.push(Number(process.hrtime.bigint() - began) / 1e9);
  direct.push(seconds(() => { for (const r of runs) keep += judge(r.samples, r.plan, standardThresholds).length; }));
}
console.log(`  through RxJS batches ${(median(rx) / median(direct)).toFixed(2)} x judge's time`);
