import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { parsePlan } from '../../src/core/plan.js';
import { parseThresholds } from '../../src/core/thresholds.js';
import { certificateGaps, type CertificateFacts } from '../../src/records/certificate-gaps.js';
import { TraceBuilder } from '../traces.js';

const plan = parsePlan({ plan: 'short proof', testPressure: '550 bar', holdTime: '3 s', maximumDrop: '10 bar', decisionRule: 'guarded' }, 'plan');
const thresholds = parseThresholds({ quietTime: '1 s', settleWindow: '2 s', settleTimeout: '10 s', runEnd: '2 s' }, 'thresholds');
const trace = new TraceBuilder(0.05, 0.03).level(3, 0).ramp(10, 0, 552).level(12, 552).ramp(1, 552, 0).level(5, 0).trace;
const outcome = judge(trace, plan, thresholds)[0] ?? expect.fail('no run');

/** All that FC-49 asks for, of a run that passed. */
const complete = {
  record: 8,
  job: {
    order: '4711', customer: 'Example Farm', assemblies: ['A-101'], hose: 'two-wire DN12', hoseLot: 'L-33', fitting: 'DKO 15L, both ends',
    operator: 'J. Doe', responsible: 'M. Roe', medium: 'water',
  },
  plan: { ...plan, allowedLoss: 'at most 10 bar' },
  cycles: outcome.cycles,
  verdict: outcome.verdict,
  instrument: { serial: 'T-7', calibration: { certificate: 'C-118', date: '2026-03-01', due: '2027-03-01' } },
  wall: Date.UTC(2026, 5, 1, 9),
  zone: 'Europe/Berlin',
  visual: 'no leakage seen',
  attempts: ['attempt 2 of 2, run 7 not passed'],
  software: 'dwellkeeper 0.1.0',
  trace: { sha256: 'ab'.repeat(32), seal: 'cd'.repeat(32) },
} satisfies CertificateFacts;

/** The facts once for each place that may hold `blank` by its type, with it there. */
function blanked(value: object, blank: unknown, path = ''): { path: string; facts: CertificateFacts }[] {
  const within = (key: string, part: unknown) => (Array.isArray(value) ? value.with(Number(key), part) : { ...value, [key]: part });
  return Object.entries(value).flatMap(([key, part]: [string, unknown]) => [
    ...(blank === null || blank === undefined || typeof blank === typeof part ? [{ path: `${path}${key}`, facts: within(key, blank) as CertificateFacts }] : []),
    ...(typeof part === 'object' && part !== null
      ? blanked(part, blank, `${path}${key}.`).map((deeper) => ({ path: deeper.path, facts: within(key, deeper.facts) as CertificateFacts }))
      : []),
  ]);
}

describe('FC-49 a certificate the customer refuses', () => {
  it('a passed run without a transducer serial is not final and says exactly that', () => {
    expect(outcome.verdict).toBe('pass');
    const { serial, ...instrument } = complete.instrument;
    expect(serial).toBe('T-7');
    expect(certificateGaps({ ...complete, instrument })).toEqual({ missing: ['instrument serial'], final: false, sentence: 'incomplete: instrument serial' });
  });

  it('a complete one is final', () => {
    expect(certificateGaps(complete)).toEqual({ missing: [], final: true, sentence: 'complete' });
  });

  it('lists everything, in order, where nothing is known', () => {
    expect(certificateGaps({}).missing).toEqual([
      'record number', 'order', 'customer', 'assembly serials', 'hose', 'hose lot', 'end fittings', 'plan', 'required pressure', 'hold time',
      'allowed loss', 'decision rule', 'verdict', 'measured values', 'medium', 'instrument serial', 'calibration certificate', 'calibration date',
      'calibration due date', 'date and time', 'time zone', 'operator', 'responsible person', 'visual finding', 'earlier attempts',
      'software version', 'trace checksum', 'seal',
    ]);
  });
});

describe('certificate gaps', () => {
  /** Of plan and cycles a certificate needs these values; all else that stands in the facts it needs as well. */
  const needed = /^(?!cycles\.|plan\.|attempts\.)|^cycles\.0\.(holdStartPressure|holdMinimum|drop|peak)$|^plan\.(plan|testPressure|holdTime|allowedLoss|decisionRule)$/;

  it.each<[unknown, number]>([[null, 38], [undefined, 38], ['', 22], [' ', 22], ['-', 22], ['?', 22], [NaN, 8]])('finds a single %j in each of its %d places', (blank, places) => {
    const wanted = blanked(complete, blank).filter(({ path }) => needed.test(path));
    expect(wanted).toHaveLength(places);
    for (const { path, facts } of wanted) expect([path, certificateGaps(facts).final]).toEqual([path, false]);
  });

  it.each<[string, CertificateFacts, string]>([
    ['one blank serial among several', { ...complete, job: { ...complete.job, assemblies: ['A-101', ' '] }, attempts: ['attempt 1 of 1', 'attempt 1 of 1'] }, 'incomplete: serial of assembly 2'],
    ['the earlier attempts of one assembly of two', { ...complete, job: { ...complete.job, assemblies: ['A-101', 'A-102'] } }, 'incomplete: earlier attempts'],
    ['a value of one cycle of two', { ...complete, cycles: [...outcome.cycles, { ...outcome.cycles[0], drop: null }] }, 'incomplete: loss during the hold in cycle 2'],
    ['a run that burst on the way up lacks no hold', { ...complete, verdict: 'fail', cycles: [{ settled: null, holdStartPressure: null, holdMinimum: null, drop: null, peak: 480.1 }] }, 'complete'],
    ['a pass without a hold does', { ...complete, cycles: [{ settled: null, holdStartPressure: 551, holdMinimum: null, drop: 2, peak: 552 }] }, 'incomplete: lowest pressure of the hold'],
    ['nobody looked, and that is said', { ...complete, visual: 'not inspected' }, 'complete'],
    ['a loss of nothing is a value', { ...complete, cycles: [{ ...outcome.cycles[0], drop: 0 }] }, 'complete'],
    ['a person in another script', { ...complete, job: { ...complete.job, operator: '山田' } }, 'complete'],
  ])('%s', (_what, facts, sentence) => expect(certificateGaps(facts).sentence).toBe(sentence));

  it('is final exactly when it lists nothing, and never lists more for knowing more', () => {
    const keys = Object.keys(complete) as (keyof CertificateFacts)[];
    fc.assert(
      fc.property(fc.subarray(keys), fc.constantFrom(...keys), (known, added) => {
        const some = (names: readonly string[]) => certificateGaps(Object.fromEntries(Object.entries(complete).filter(([key]) => names.includes(key))));
        const [less, more] = [some(known), some([...known, added])];
        expect(less.final).toBe(less.missing.length === 0);
        expect(less.missing).toEqual(expect.arrayContaining([...more.missing]));
      }),
    );
  });
});
