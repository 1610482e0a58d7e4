import { describe, expect, it } from 'vitest';
import { handlesOf, limitIn, spikeBox, type PlotScene } from '../../../dashboards/tuning/plot-handles.js';
import { changed, writtenAs } from '../../../dashboards/tuning/threshold-values.js';
import { ReadingInDetail } from '../../../src/core/reading-in-detail.js';
import { readingLimits } from '../../../src/core/thresholds.js';
import { runScenario } from '../../../simulators/run-scenario.js';

const { samples, plan, thresholds } = runScenario('demo-spike', 1);
const reading = new ReadingInDetail(samples, { plan, thresholds });
while (!reading.read(1e6));
const [run] = reading.found;
const event = run?.outcome.events.find(({ kind }) => kind === 'spike') ?? null;
const scene: PlotScene = { thresholds, testPressure: plan.testPressure, cycle: run?.outcome.cycles[0] ?? null, hold: run?.holds[0] ?? null, event, plan: null };

describe('handles on the plot', () => {
  it('are there for what can be seen of a run, each where its threshold is', () => {
    const limits = readingLimits(thresholds, plan.testPressure);
    const handles = handlesOf(scene);
    expect(handles.map(({ key }) => key).sort()).toEqual(['attemptPressure', 'quietTime', 'settleSlope', 'settleTimeout', 'spikeHeight', 'spikeWidth', 'topUpHeight', 'ventPressure']);
    for (const { key, along, time, pressure, valueAt } of handles) expect(valueAt(along === 'time' ? time : pressure)).toBeCloseTo(limits[key as keyof typeof limits], 9);
  });

  it('that are moved and written again stand where they were put', () => {
    for (const { key, along, time, pressure, valueAt } of handlesOf(scene)) {
      const place = along === 'time' ? time + 0.05 : key === 'settleSlope' ? pressure - 1 : pressure + 1;
      const value = valueAt(place);
      const text = along === 'time' ? writtenAs(value, 's') : writtenAs(value, key === 'settleSlope' ? 'bar/s' : 'bar');
      const moved = handlesOf({ ...scene, thresholds: changed(thresholds, { [key]: text }) }).find((other) => other.key === key);
      expect(along === 'time' ? moved?.time : moved?.pressure).toBeCloseTo(place, 3);
    }
  });

  it('never give less than nothing, and are none where nothing was seen', () => {
    for (const { valueAt } of handlesOf(scene)) expect(Math.min(valueAt(-1e6), valueAt(1e6))).toBeGreaterThanOrEqual(0);
    expect(handlesOf({ ...scene, cycle: null, hold: null, event: null })).toEqual([]);
  });

  it('of a plan on trial stand at its limits, and give the pressure that they are moved to', () => {
    const tried = { ...plan, minimumPressure: 530, ceilingPressure: 600 };
    const limits = handlesOf({ ...scene, plan: tried }).filter(({ of }) => of === 'limit');
    expect(limits.map(({ key, pressure }) => [limitIn(key), pressure])).toEqual([['testPressure', plan.testPressure], ['minimumPressure', 530], ['ceilingPressure', 600]]);
    for (const { valueAt, pressure } of limits) expect(valueAt(pressure + 3)).toBe(pressure + 3);
    const bare = { ...tried };
    delete (bare as { ceilingPressure?: number }).ceilingPressure;
    expect(handlesOf({ ...scene, plan: bare }).map(({ key }) => key)).not.toContain('plan.ceilingPressure');
    expect(limitIn('spikeHeight')).toBeNull();
  });

  it('the box stands on the foot of the spike, around its extreme', () => {
    const box = spikeBox(scene);
    if (box === null || event === null) throw new Error('no box');
    expect(box.low).toBeCloseTo((event.pressure ?? 0) - (event.height ?? 0), 9);
    expect((box.from + box.to) / 2).toBeCloseTo(event.at, 9);
    expect(box.high).toBeLessThan(event.pressure ?? 0);
    expect(spikeBox({ ...scene, event: { ...event, height: -300 } })).toBeNull();
  });
});
