import { bufferCount, concatMap, from, lastValueFrom, toArray, type Observable } from 'rxjs';
import { beforeAll, describe, expect, it } from 'vitest';
import type { Received } from '../../drivers/driver.js';
import { inputSchema, sourceOf } from '../../drivers/index.js';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { Flag, traceOf, type Sample } from '../../src/core/trace.js';
import { finishedRuns } from '../../src/operators/finished-runs.js';
import { readRunBatches } from '../../src/operators/read-run-batches.js';
import { readRuns } from '../../src/operators/read-runs.js';
import type { RunNews } from '../../src/operators/run-news.js';
import { FakeWiring } from '../drivers/fake-wiring.js';
import { VirtualClock } from '../drivers/virtual-clock.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'proof', testPressure: '690 bar', holdTime: '60 s', ceilingPressure: '735 bar', maximumDrop: '10 bar', leakLimit: '5 bar/min' }, 'plan');
const setup = { plan, thresholds: standardThresholds };

/** 240 s, a reading each 0.1 s: strokes, settling, a spike in the hold, a leak, a vent. */
function recording(): string {
  const b = new TraceBuilder(0.1, 0.05, 0.01).level(20, 0.1);
  for (let k = 0; k < 12; k++) b.ramp(0.6, 58.4 * k, 58.4 * (k + 1)).level(1.4, 58.4 * (k + 1));
  const hold = (t: number) => 696 + 4.8 * Math.exp(-t / 6) - 0.03 * t;
  b.shape(170, (t) => hold(t) + (t > 60 && t < 60.2 ? 20 * Math.sin((Math.PI * (t - 60)) / 0.2) : 0)).ramp(2, hold(170), 0).level(24, 0.1);
  const { time, pressure } = b.trace;
  return ['time_s,pressure_bar', ...[...time].map((t, i) => `${t.toFixed(1)},${(pressure[i] as number).toFixed(2)}`)].join('\n');
}
const text = recording();

/** The readings as the recording is played back, each at its time on a clock of the test's own. */
async function played(speed: number): Promise<Sample[]> {
  const wiring = new FakeWiring();
  const clock = new VirtualClock();
  wiring.files.set('run.csv', text);
  const samples: Sample[] = [];
  let over = false;
  const items: Observable<Received> = sourceOf(inputSchema.parse({ driver: 'replay', path: 'run.csv', speed })).read(wiring, clock);
  items.subscribe({
    next: (item) => item.kind === 'reading' && samples.push({ time: item.time, pressure: item.value, flags: Flag.good }),
    complete: () => (over = true),
  });
  await Promise.resolve().then(() => Promise.resolve());
  for (let i = 0; !over && i < 5000; i++) clock.pass(0.1);
  expect(over).toBe(true);
  return samples;
}

const resultFile = async (news: Observable<RunNews>): Promise<Buffer> =>
  Buffer.from(JSON.stringify((await lastValueFrom(news.pipe(finishedRuns, toArray()))).map((run) => run.outcome), null, 2));

// FC-53: the judging takes its time from the samples alone.
describe('FC-53: a recording of 240 s has one result', () => {
  let atOnce: Buffer;
  beforeAll(() => {
    const rows = text.split('\n').slice(1).map((row) => row.split(',').map(Number) as [number, number]);
    atOnce = Buffer.from(JSON.stringify(judge(traceOf(rows.map(([t]) => t), rows.map(([, p]) => p)), plan, standardThresholds), null, 2));
  });

  it('that says what happened', () => {
    expect(JSON.parse(atOnce.toString())).toMatchObject([{ verdict: 'pass', cycles: [{ strokes: 12 }], events: expect.arrayContaining([expect.objectContaining({ kind: 'spike' })]) as unknown }]);
  });

  it.each([1, 100])('played back %d times as fast as it was recorded', async (speed) => {
    expect((await resultFile(from(await played(speed)).pipe(readRuns(setup)))).equals(atOnce)).toBe(true);
  });

  it('played back without delay', async () => {
    const samples = text.split('\n').slice(1).map((row) => row.split(',').map(Number) as [number, number]).map(([time, pressure]) => ({ time, pressure, flags: Flag.good }));
    expect((await resultFile(from(samples).pipe(readRuns(setup)))).equals(atOnce)).toBe(true);
  });

  it.each([1, 1000])('fed in pieces of %d rows', async (size) => {
    const pieces = from(await played(100)).pipe(bufferCount(size), readRunBatches(setup), concatMap((news) => from(news)));
    expect((await resultFile(pieces)).equals(atOnce)).toBe(true);
  });
});
