import { join } from 'node:path';
import { describe, expect, it } from 'vitest';
import { channelSchema } from '../../src/acquisition/channel-config.js';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import type { Instrument } from '../../src/core/trace.js';
import { instrumentOf } from '../../src/daemon/instrument.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { emptyFolder, opened, outcomeOf, record } from '../records/example-store.js';
import { TraceBuilder } from '../traces.js';

const zone = 'Europe/Berlin';
const channelWith = (calibration: Record<string, string>) =>
  channelSchema.parse({
    input: { driver: 'serial-line', path: '/dev/ttyUSB0' }, unit: 'bar', range: { upper: '600 bar' },
    calibration: { serial: 'T-7', uncertainty: '0.8 bar', ...calibration },
  });
const before = channelWith({ certificate: 'C-118', date: '2025-03-01', due: '2026-03-01' });
const after = channelWith({ certificate: 'C-131', date: '2026-03-06', due: '2027-03-06' });
const ends = [Date.parse('2026-03-01T22:30:00Z'), Date.parse('2026-03-01T23:10:00Z')] as const;
const nextWeek = Date.parse('2026-03-09T08:00:00Z');

const planText = { plan: 'short proof', testPressure: '550 bar', holdTime: '3 s', minimumPressure: '530 bar' };
const thresholds = parseThresholds({ quietTime: '1 s', settleWindow: '2 s', settleTimeout: '10 s', runEnd: '2 s' }, 'thresholds');
const goodRun = new TraceBuilder(0.05, 0.03).level(3, 0).ramp(10, 0, 552).level(12, 552).ramp(1, 552, 0).level(5, 0).trace;
const judged = (instrument: Instrument, plan: Record<string, unknown> = {}) => {
  const [outcome] = judge(goodRun, parsePlan({ ...planText, ...plan }, 'plan'), thresholds, instrument);
  return { verdict: outcome?.verdict, data: outcome?.findings.find((f) => f.rule === 'data') };
};

describe('FC-46 calibration ran out yesterday', () => {
  const [inDate, overdue] = ends.map((wall) => instrumentOf(before, wall, zone)) as [Instrument, Instrument];

  it('the run at 23:30 on the due day is in date, the one at 00:10 is overdue', () => {
    expect(inDate).toMatchObject({ calibrationOverdue: false, calibrationUncertainty: 0.4 });
    expect(overdue).toMatchObject({ calibrationOverdue: true });
    for (const { identity } of [inDate, overdue]) expect(identity).toBe('transducer T-7, certificate C-118 of 2025-03-01, due 2026-03-01');
  });

  it('recalibrating and reading the records again later changes neither', () => {
    const path = join(emptyFolder(), 'bench.db');
    const store = opened(path, { now: () => ends[1] });
    const channel = store.channel('bench 1', 'pressure', 'bar').id;
    const versions = { plan: store.keepVersion('plan', { plan: 'short proof' }), thresholds: store.keepVersion('thresholds', thresholds) };
    ends.forEach((wall, i) => {
      const from = 10 + 10 * i;
      const run = store.openRun({ channel, from, ...versions, instrument: instrumentOf(before, wall, zone) });
      store.finishRun(run, { to: record(store, channel, from, 300), outcome: outcomeOf('pass') });
    });
    const third = store.openRun({ channel, from: 50, ...versions, instrument: instrumentOf(after, nextWeek, zone) });
    store.finishRun(third, { to: record(store, channel, 50, 300), outcome: outcomeOf('pass') });
    store.close();

    const later = opened(path, { readOnly: true, now: () => nextWeek + 365 * 86_400_000 });
    const printed = [1, 2, 3].map((run) => later.getRun(run)?.instrument);
    expect(printed).toEqual([inDate, overdue, instrumentOf(after, nextWeek, zone)]);
    expect(printed.map((instrument) => instrument?.calibrationOverdue)).toEqual([false, true, false]);
    expect(verifyLedger(later).intact).toBe(true);
  });

  it('overdue makes a good run inconclusive and says so; a plan may allow it', () => {
    expect(judged(inDate).verdict).toBe('pass');
    expect(judged(overdue)).toMatchObject({
      verdict: 'inconclusive',
      data: { outcome: 'undecided', sentence: 'The calibration of the transducer was overdue.' },
    });
    expect(judged(overdue, { allowOverdueCalibration: true }).verdict).toBe('pass');
  });
});
