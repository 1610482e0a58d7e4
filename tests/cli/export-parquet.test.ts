import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { parquetMetadata, parquetReadObjects } from 'hyparquet';
import { describe, expect, it } from 'vitest';
import { exportParquet } from '../../src/cli/export-parquet.js';
import { Flag } from '../../src/core/trace.js';
import { standardThresholds } from '../../src/core/thresholds.js';
import { emptyFolder, morning, opened, outcomeOf } from '../records/example-store.js';
import { namesIn } from './run-cli.js';

const options = { force: false, software: 'dwellkeeper test', progress: () => undefined };

const bytesOf = (path: string): ArrayBuffer => {
  const { buffer, byteOffset, byteLength } = readFileSync(path);
  return buffer.slice(byteOffset, byteOffset + byteLength);
};

/** A run of 20 readings a second, some of which did not come, in a segment whose wall clock was set anew half-way. */
function recorded() {
  const store = opened(join(emptyFolder(), 'records.sqlite'));
  const channel = store.channel('bench 1', 'pressure', 'bar').id;
  const readings = Array.from({ length: 400 }, (_, i) => ({
    time: 10 + i / 20, pressure: i % 50 === 7 ? NaN : 500 + i / 8, flags: i % 50 === 7 ? Flag.unreadable : i === 399 ? Flag.saturated : 0,
  }));
  let writer = store.beginSegment(channel, { time: 10, wall: morning });
  readings.forEach(({ time, pressure, flags }, i) => {
    if (i === 200) {
      writer.flush();
      writer = store.beginSegment(channel, { time, wall: morning + 3_600_000 });
    }
    writer.append(time, pressure, flags);
  });
  writer.flush();
  const run = store.openRun({ channel, from: 10, plan: store.keepVersion('plan', { plan: 'two-wire DN12 proof' }), thresholds: store.keepVersion('thresholds', standardThresholds), instrument: null });
  store.addEntry(run, { kind: 'job', order: 'A-7', hose: 'ISO 1436 2SN DN12', assemblies: ['H-1', 'H-2'] }, 'J. Doe');
  store.finishRun(run, { to: 29.95, outcome: outcomeOf('inconclusive') });
  store.addEntry(run, { kind: 'label', label: 'truly sound' }, 'R. Roe');
  return { store, run, readings };
}

describe('export as Parquet, read back with another program', () => {
  it('has every reading with its flags and both clocks', async () => {
    const { store, run, readings } = recorded();
    const folder = emptyFolder();
    const { written, leftOut } = await exportParquet(store, [run], folder, options);
    expect([written.length, leftOut]).toEqual([2, []]);
    expect(namesIn(folder)).toEqual(['run-1.parquet', 'runs.parquet']);
    const file = bytesOf(join(folder, 'run-1.parquet'));
    const rows = await parquetReadObjects({ file });
    expect(rows).toEqual(readings.map(({ time, pressure, flags }, i) => ({
      time_s: time,
      time: new Date(i < 200 ? morning + (time - 10) * 1000 : morning + 3_600_000 + (time - 20) * 1000),
      pressure_bar: Number.isNaN(pressure) ? null : pressure,
      flags,
    })));
    expect(parquetMetadata(file).key_value_metadata).toEqual(expect.arrayContaining([{ key: 'run', value: '1' }, { key: 'verdict', value: 'inconclusive' }]));
  });

  it('has a line a run with what it came to', async () => {
    const { store, run } = recorded();
    const folder = emptyFolder();
    await exportParquet(store, [run], folder, options);
    const rows = await parquetReadObjects({ file: bytesOf(join(folder, 'runs.parquet')) });
    expect(rows).toEqual([expect.objectContaining({
      run: 1, bench: 'bench 1', from: new Date(morning), verdict: 'inconclusive', order: 'A-7', hose: 'ISO 1436 2SN DN12', assemblies: 'H-1 H-2',
      known: 'truly sound', plan: 'two-wire DN12 proof', spikes: 1, settled_s: null, customer: null, seal: store.ledger.of(run)[0]?.seal,
    })]);
    expect(JSON.parse(String(rows[0]?.['findings']))).toEqual(outcomeOf('inconclusive').findings);
  });

  it('writes over nothing unless told to, and leaves no half file', async () => {
    const { store, run } = recorded();
    const folder = emptyFolder();
    await exportParquet(store, [run], folder, options);
    await expect(exportParquet(store, [run], folder, options)).rejects.toThrow(/is there already/);
    await exportParquet(store, [run], folder, { ...options, force: true });
    expect(namesIn(folder)).toEqual(['run-1.parquet', 'runs.parquet']);
  });
});
