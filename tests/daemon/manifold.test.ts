import { afterEach, describe, expect, it, vi } from 'vitest';
import { judge } from '../../src/core/judge.js';
import { convert } from '../../src/core/conversion.js';
import { canonicalJson } from '../../src/records/canonical-json.js';
import { judgingBy } from './hand-bench.js';
import { ManifoldBench } from './manifold-bench.js';

let bench: ManifoldBench;
const begin = (...args: ConstructorParameters<typeof ManifoldBench>): ManifoldBench => (bench = new ManifoldBench(...args));
afterEach(() => bench.clear());

const lowPlan = { testPressure: '200 bar', minimumPressure: '190 bar', ceilingPressure: '230 bar' };
const highPlan = { testPressure: '550 bar', minimumPressure: '530 bar', ceilingPressure: '600 bar' };
const last = () => bench.daemon.feed.recentRuns(1)[0];
const runs = () => bench.stored((store) => store.listRuns().toReversed().map(({ number }) => store.getRun(number)));
const channelOf = (number: number) => bench.stored((store) => store.channels.get(store.getRun(number)?.channel ?? 0)?.name);

describe('two ranges on one manifold', () => {
  it('the plan decides which is judged, and both are recorded', () => {
    begin(lowPlan);
    bench.run(202, (p) => p + 0.1);
    expect(last()).toMatchObject({ verdict: 'pass', reasons: [] });
    bench.daemon.use(judgingBy(highPlan));
    // Isolated at 150 bar on the way up, as it should be.
    bench.run(552, (p) => Math.min(p, 150));
    expect(last()).toMatchObject({ verdict: 'pass', reasons: [] });
    bench.daemon.stop();
    expect([channelOf(1), channelOf(2)]).toEqual(['low', 'high']);
    expect(runs().map((run) => run?.instrument?.range?.upper)).toEqual([250, 1000]);
    const counts = bench.stored((store) => [1, 2].map((id) => store.traceWindow(id, -Infinity, Infinity).time.length));
    expect(counts).toEqual([1320, 1320]);
  });

  it('a replay of the record comes to the same outcome, doubts and all', () => {
    begin(lowPlan);
    bench.run(202, (p) => p, (p) => p * 1.1);
    bench.daemon.stop();
    const { plan, thresholds } = judgingBy(lowPlan);
    const stored = runs()[0];
    const again = bench.stored((store) => judge(store.traceWindow(stored?.channel ?? 0, -Infinity, Infinity), plan?.value ?? null, thresholds.value, stored?.instrument ?? {}));
    expect(stored?.verdict).toBe('inconclusive');
    expect(canonicalJson(again)).toBe(canonicalJson([stored?.outcome]));
  });

  it.each([
    ['gain', (p: number) => p * 1.05],
    ['zero', (p: number) => p + 12],
  ])('a transducer that has drifted (%s) leaves the run inconclusive, with a notice', (_kind, drifted) => {
    begin(lowPlan);
    bench.run(202, (p) => p, drifted);
    expect(last()?.verdict).toBe('inconclusive');
    expect(last()?.reasons.join()).toMatch(/^high shows .* where low shows .*, more than the .* bar that both may err/);
  });

  it('the notice of a disagreement stands while it lasts', () => {
    begin(lowPlan);
    bench.show(5, () => ({ low: 0, high: 12 }));
    expect(bench.notices()).toContainEqual(expect.stringMatching(/^warning: high shows 12(\.\d+)? bar where low shows/));
    bench.show(5, () => ({ low: 0, high: 0 }));
    expect(bench.notices().filter((text) => !text.includes('supply'))).toEqual([]);
  });

  it('a drift beyond the low range is not seen there, and what is within both uncertainties is no disagreement', () => {
    begin(highPlan);
    // Both classes are 0.25 %: 1.44 bar and 2.9 bar expanded, 3.2 bar together.
    bench.run(552, (p) => (p < 150 ? p + 2 : 152));
    expect(last()).toMatchObject({ verdict: 'pass' });
  });

  it('drift of the low one shows on the way up of a high run, before it is isolated', () => {
    begin(highPlan);
    bench.run(552, (p) => (p < 200 ? p * 1.15 : 230));
    expect(last()?.verdict).toBe('inconclusive');
  });

  it('one that is isolated from the start is not compared, and that is said', () => {
    begin(highPlan);
    bench.run(552, () => null);
    expect(last()?.verdict).toBe('pass');
    expect(bench.notices()).toContain('remark: low could not be compared with high in this run');
  });

  it('the low one above what it stands is a loud alarm, at once', () => {
    begin(highPlan, { low: { safeLimit: '300 bar' } });
    bench.show(1, () => ({ low: 0, high: 0 }));
    bench.show(5, (share) => ({ low: 295 * share, high: 295 * share }));
    expect(bench.notices().filter((text) => text.startsWith('alarm'))).toEqual([]);
    bench.show(0.5, (share) => ({ low: 295 + 10 * share, high: 295 + 10 * share }));
    expect(bench.notices()[0]).toBe('alarm: isolate the low-range transducer: low is above the 300 bar that it stands');
    bench.show(1, () => ({ low: '+OL', high: 400 }));
    expect(bench.notices()[0]).toMatch(/^alarm: isolate/);
    bench.show(10, (share) => ({ low: 300 * (1 - share), high: 400 * (1 - share) }));
    bench.show(3, () => ({ low: 0, high: 0 }));
    expect(bench.notices().filter((text) => text.startsWith('alarm'))).toEqual([]);
  });

  it('a number far beyond its range is no pressure, and still the alarm', () => {
    begin(highPlan);
    bench.show(1, () => ({ low: 500, high: 500 }));
    expect(bench.notices()).toContain('alarm: isolate the low-range transducer: low is above the 250 bar that it stands');
  });

  it('a plan beyond every transducer is said', () => {
    begin({ testPressure: '1100 bar', minimumPressure: '1000 bar', ceilingPressure: '1200 bar' });
    expect(bench.notices()).toContain('warning: the plan goes beyond the 1000 bar that high can measure');
  });
});

describe('what the record keeps', () => {
  it('raw readings, calibration and scaling, from which every pressure follows to the last bit', () => {
    const calibration = { certificate: 'K-7', serial: 'T-9', date: '2026-05-01', due: '2027-05-01', uncertainty: '0.4 bar', coefficients: { constant: '0.3 bar', linear: 1.0004, quadratic: -2e-7 } };
    begin(lowPlan, { low: { calibration } });
    bench.run(202, (p) => p);
    bench.daemon.stop();
    const run = runs()[0];
    expect(run?.instrument?.calibration).toEqual({ certificate: 'K-7', serial: 'T-9', date: '2026-05-01', due: '2027-05-01', uncertainty: 0.4 });
    expect(run?.instrument?.conversion).toEqual({ unit: 'bar', scaling: null, coefficients: { constant: 0.3, linear: 1.0004, quadratic: -2e-7 } });
    const trace = bench.stored((store) => store.traceOfRun(1));
    const { conversion } = run?.instrument ?? {};
    if (conversion === undefined) throw new Error('the record has no conversion');
    expect(trace.raw).not.toBeNull();
    expect(trace.raw?.length).toBeGreaterThan(300);
    trace.raw?.forEach((raw, i) => expect(convert(conversion, raw)).toBe(trace.pressure[i]));
    expect(Math.max(...(trace.raw ?? []))).toBeLessThan(Math.max(...trace.pressure));
  });
});

describe('the lid', () => {
  it('open above vent pressure: an alarm, and the run is inconclusive', () => {
    begin(lowPlan);
    bench.show(2, () => ({ low: 0, high: 0, lid: 'shut' }));
    bench.show(6, (share) => ({ low: 120 * share, high: 120 * share, lid: 'shut' }));
    expect(bench.notices()).toEqual([]);
    bench.show(0.2, () => ({ low: 120, high: 120, lid: 'open' }));
    expect(bench.notices()).toEqual(['alarm: the lid is open under pressure: stay clear of it and vent the bench']);
    bench.show(4, (share) => ({ low: 120 + 84 * share, high: 120 + 84 * share, lid: 'shut' }));
    expect(bench.notices()).toEqual([]);
    bench.show(14, () => ({ low: 203, high: 203, lid: 'shut' }));
    bench.show(1, (share) => ({ low: 203 * (1 - share), high: 203 * (1 - share), lid: 'shut' }));
    bench.show(8, () => ({ low: 0, high: 0, lid: 'open' }));
    expect(last()?.verdict).toBe('inconclusive');
    expect(last()?.reasons.join()).toMatch(/The lid was open under pressure/);
    expect(bench.notices()).toEqual([]);
  });

  it('shut throughout: a pass, told by the lid contact on another cable', () => {
    begin(lowPlan);
    bench.run(202, (p) => p, (p) => p, 'shut');
    expect(last()?.verdict).toBe('pass');
    bench.daemon.stop();
    expect(runs()[0]?.outcome?.findings.find(({ rule }) => rule === 'lid')).toMatchObject({ outcome: 'met' });
  });

  it('whose contact is lost in the run: inconclusive, though the pressure came all the time', async () => {
    begin(lowPlan);
    bench.show(2, () => ({ low: 0, high: 0, lid: 'shut' }));
    bench.show(10, (share) => ({ low: 204 * share, high: 204 * share, lid: 'shut' }));
    bench.pull('/dev/supply');
    bench.show(13, () => ({ low: 203, high: 203 }));
    bench.show(1, (share) => ({ low: 203 * (1 - share), high: 203 * (1 - share) }));
    bench.show(8, () => ({ low: 0, high: 0 }));
    expect(last()?.verdict).toBe('inconclusive');
    expect(last()?.reasons.join()).toMatch(/whether the lid stayed shut is not known: the port is gone/);
    expect(last()?.events.filter(({ kind }) => kind === 'gap')).toEqual([]);
    // The next run, with the contact back, is free of the doubt.
    await vi.waitFor(() => expect(bench.opened.get('/dev/supply')).toBe(2), { timeout: 20_000 });
    bench.run(202, (p) => p, (p) => p, 'shut');
    expect(last()?.verdict).toBe('pass');
  });

  it('the cable of a channel that is not judged may be pulled without a gap in the run', () => {
    begin(lowPlan);
    bench.show(2, () => ({ low: 0, high: 0 }));
    bench.show(10, (share) => ({ low: 204 * share, high: 204 * share }));
    bench.pull('/dev/high');
    bench.show(14, () => ({ low: 203, high: null }));
    bench.show(1, (share) => ({ low: 203 * (1 - share), high: null }));
    bench.show(8, () => ({ low: 0, high: null }));
    expect(last()?.verdict).toBe('pass');
    expect(bench.notices().some((text) => text.startsWith('alarm: high: the port is gone'))).toBe(true);
  });
});
