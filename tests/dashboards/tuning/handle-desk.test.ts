import { describe, expect, it } from 'vitest';
import { HandleDesk } from '../../../dashboards/tuning/handle-desk.js';
import type { HandleKey } from '../../../dashboards/tuning/plot-handles.js';
import { changed } from '../../../dashboards/tuning/threshold-values.js';
import { parsePlan } from '../../../src/core/plan.js';
import { standardThresholds } from '../../../src/core/thresholds.js';

const plan = parsePlan({ plan: 'P', testPressure: '500 bar', holdTime: '30 s', minimumPressure: '450 bar' }, '');

/** A desk at 500 bar, and what it wrote. */
function deskWith(changes: Record<string, string> = {}) {
  const written: [key: string, value: string | number, gesture: string][] = [];
  const desk = new HandleDesk({
    thresholds: changed(standardThresholds, changes), plan, unit: 'bar', testPressure: 500,
    set: (...all) => written.push(all), setLimit: (...all) => written.push(all), endGesture: () => undefined,
  });
  return { desk, written };
}

describe('a handle on the plot', () => {
  it.each<[HandleKey, Record<string, string>, number, string | number]>([
    ['spikeHeight', { spikeHeight: '1 %' }, 7.5, '1.5 %'],
    ['spikeHeight', { spikeHeight: '5 bar' }, 7.5, '7.5 bar'],
    ['spikeWidth', {}, 0.3, '300 ms'],
    ['quietTime', {}, 4.5678, '4.57 s'],
    ['settleSlope', { settleSlope: '0.3 %/min' }, 0.05, '0.6 %/min'],
  ])('%s of %j moved to %d writes it as it stands: %s', (key, changes, value, text) => {
    const { desk, written } = deskWith(changes);
    desk.move(key, value, 'drag 1');
    expect(written).toEqual([[key, text, 'drag 1']]);
  });

  it('writes nothing that a threshold may not be', () => {
    const { desk, written } = deskWith();
    desk.move('spikeWidth', 0, 'drag 1');
    expect(written).toEqual([]);
  });

  it('of a limit of the plan moves it in bar, by keys a five-hundredth of the test pressure', () => {
    const { desk, written } = deskWith();
    desk.move('plan.minimumPressure', 460, 'drag 1');
    desk.step('plan.minimumPressure', -10);
    expect(written).toEqual([['minimumPressure', 460, 'drag 1'], ['minimumPressure', 440, 'keys plan.minimumPressure']]);
  });

  it('goes by hundredths of its slider with keys, and stays on it', () => {
    const { desk, written } = deskWith({ spikeHeight: '20 %' });
    desk.step('spikeHeight', 1);
    desk.step('spikeHeight', -100);
    expect(written.map(([, text]) => text)).toEqual(['20 %', '0.1 %']);
  });

  it('says what it is and how it stands', () => {
    const { desk } = deskWith({ spikeHeight: '1.2 %' });
    expect([desk.label('spikeHeight'), desk.words('spikeHeight')]).toEqual(['Spike height', '1.2 %']);
    expect([desk.label('plan.minimumPressure'), desk.words('plan.minimumPressure')]).toEqual(['Minimum pressure', '450.0 bar']);
  });
});
