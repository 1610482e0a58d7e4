import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pino } from 'pino';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { realWiring } from '../../drivers/real-wiring.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { judge } from '../../src/core/judge.js';
import { BenchDaemon } from '../../src/daemon/bench-daemon.js';
import { until } from '../drivers/pty-pair.js';
import { TraceBuilder } from '../traces.js';
import { judgingBy } from './hand-bench.js';

let folder: string;
beforeEach(() => (folder = mkdtempSync(join(tmpdir(), 'replay-'))));
afterEach(() => rmSync(folder, { recursive: true, force: true }));

describe('a recording that lies beside the bench file', () => {
  it.each([20, 500])('played %d times as fast it is the same run, with the same times', async (speed) => {
    const { trace } = new TraceBuilder(0.05, 0.03).level(3, 0).ramp(12, 0, 560).shape(4, (t) => 552 + 8 * Math.exp(-t)).level(8, 552).shape(1, (t) => 552 * (1 - t)).level(8, 0);
    mkdirSync(join(folder, 'runs'));
    const rows = [...trace.time].map((time, i) => `${time.toFixed(3)},${(trace.pressure[i] ?? 0).toFixed(2)}`);
    writeFileSync(join(folder, 'runs', 'one.csv'), `time_s,pressure_bar\n${rows.join('\n')}\n`);
    const bench = parseBench({ bench: 'b', channels: [{ input: { driver: 'replay', path: 'runs/one.csv', speed }, unit: 'bar', range: { upper: '1000 bar' }, resolution: '0.01 bar' }] }, join(folder, 'bench.yaml'));
    const judging = judgingBy();
    const daemon = new BenchDaemon({ bench, judging, wiring: realWiring, log: pino({ level: 'silent' }), software: 'test' });
    try {
      daemon.start();
      await until('the run is over', () => daemon.feed.recentRuns(1).length > 0, 30_000);
      const run = daemon.feed.recentRuns(1)[0];
      const pressure = rows.map((row) => Number(row.split(',')[1]));
      const [direct] = judge({ time: trace.time.map((t) => Number(t.toFixed(3))), pressure: Float64Array.from(pressure) }, judging.plan?.value ?? null, judging.thresholds.value, { range: { lower: 0, upper: 1000 }, resolution: 0.01 });
      expect(run?.verdict).toBe(direct?.verdict);
      expect(run?.peak).toBe(direct?.cycles[0]?.peak);
      const [hold] = run?.holds ?? [];
      const cycle = direct?.cycles[0];
      // The clock of the store counts from its own beginning: durations are those of the recording.
      expect((hold?.to ?? 0) - (hold?.from ?? 0)).toBeCloseTo((cycle?.holdEnd ?? NaN) - (cycle?.settled ?? NaN), 5);
      expect((hold?.from ?? 0) - (run?.from ?? 0)).toBeCloseTo((cycle?.settled ?? NaN) - (cycle?.rising ?? NaN), 1);
    } finally {
      daemon.stop();
    }
  });
});
