import { describe, expect, it } from 'vitest';
import { groups, thresholdControls, type ThresholdKey } from '../../../dashboards/tuning/threshold-controls.js';
import {
  barOf, changed, inPressure, numberIn, numberOnSlider, problemWith, ruleOf, shareOnSlider, unitOf, unitsOf, writtenAs,
} from '../../../dashboards/tuning/threshold-values.js';
import { ChangeHistory } from '../../../dashboards/tuning/change-history.js';
import { InputError } from '../../../src/core/problems.js';
import { parseThresholds, readingLimits, standardThresholds, thresholdKeys } from '../../../src/core/thresholds.js';

describe('the controls of the thresholds', () => {
  it('are one for every key of the schema, each with a word of its own, a meaning and a range', () => {
    expect(thresholdControls.map(({ key }) => key).sort()).toEqual(thresholdKeys.filter((key) => key !== 'thresholds').sort());
    expect(new Set(thresholdControls.map(({ label }) => label)).size).toBe(thresholdControls.length);
    for (const { key } of thresholdControls) {
      expect(ruleOf(key).meaning.length).toBeGreaterThan(15);
      expect(ruleOf(key).range).not.toBe('');
      expect(problemWith(key, ruleOf(key).example)).toBeNull();
    }
    expect(groups.filter((group) => !thresholdControls.some((control) => control.group === group))).toEqual([]);
  });

  it.each(thresholdControls.map((control) => [control.key, control] as const))('%s: both ends of its slider are allowed in every unit, and the standard lies between', (key, { unit, usual }) => {
    const standard = numberIn(standardThresholds[key], unit, 550);
    expect(standard).toBeGreaterThanOrEqual(usual[0]);
    expect(standard).toBeLessThanOrEqual(usual[1]);
    for (const end of usual) expect(problemWith(key, writtenAs(end, unit))).toBeNull();
    for (const other of unitsOf(key, unit, 'psi')) {
      for (const end of usual) expect(problemWith(key, writtenAs(other === unit ? end : numberIn(changed(standardThresholds, { [key]: writtenAs(end, unit) })[key], other, 550), other))).toBeNull();
    }
  });

  it('tell what is wrong in a sentence', () => {
    expect(problemWith('spikeWidth', '20 s')).toContain("'20 s' should be 0.001 s to 10 s");
    expect(problemWith('spikeHeight', 'x')).toContain('is not a number with a unit');
  });
});

describe('values of thresholds', () => {
  it.each<[ThresholdKey, string, string, number]>([
    ['spikeHeight', '1 %', 'bar', 5.5],
    ['spikeHeight', '5.5 bar', '%', 1],
    ['spikeHeight', '5.5 bar', 'MPa', 0.55],
    ['settleSlope', '0.3 %/min', 'bar/min', 1.65],
    ['ventRate', '11 bar/s', '%/s', 2],
    ['spikeWidth', '250 ms', 'ms', 250],
    ['burstFraction', '30 %', '%', 30],
  ])('%s of %s is, at 550 bar, in %s: %d', (key, text, unit, number) => {
    const value = changed(standardThresholds, { [key]: text })[key];
    expect(numberIn(value, unit as '%', 550)).toBe(number);
    const back = changed(standardThresholds, { [key]: writtenAs(number, unit as '%') });
    const limit = (t: typeof back) => readingLimits(t, 550)[key];
    expect(limit(back)).toBeCloseTo(limit(changed(standardThresholds, { [key]: text })), 9);
  });

  it('keep the very value of what is not changed', () => {
    const base = parseThresholds({ quietTime: '7 s' }, '');
    expect(changed(base, {})).toBe(base);
    expect(changed(base, { gap: '2 s' })).toEqual({ ...base, gap: 2 });
    expect(() => changed(base, { gap: '2 bar' })).toThrow(InputError);
  });

  it('know the unit in which they were written', () => {
    expect(unitOf({ kind: 'pressure', value: 5 }, '%', 'psi')).toBe('psi');
    expect(unitOf({ kind: 'fraction', value: 0.01 }, '%', 'psi')).toBe('%');
    expect(unitOf(0.25, 'ms', 'psi')).toBe('ms');
    expect(inPressure('%/min', 'MPa')).toBe('MPa/min');
    expect(barOf(1.65, 'bar/min', 550)).toBeCloseTo(0.0275, 12);
    expect(barOf(0.3, '%/min', 550)).toBeCloseTo(0.0275, 12);
  });

  it('go along the slider by equal ratios', () => {
    expect(shareOnSlider(1, [0.1, 10])).toBeCloseTo(0.5, 12);
    expect(numberOnSlider(0.5, [0.1, 10])).toBe(1);
    expect(shareOnSlider(100, [0.1, 10])).toBe(1);
    expect(shareOnSlider(0, [0.1, 10])).toBe(0);
  });
});

describe('the history of changes', () => {
  it('undoes and redoes step by step; a drag is one step', () => {
    const history = new ChangeHistory();
    history.set('gap', '2 s');
    for (const height of ['1.1 %', '1.2 %', '1.3 %']) history.set('spikeHeight', height, 'drag 1');
    history.endGesture();
    history.set('spikeHeight', '1.4 %', 'drag 1');
    expect(history.now).toEqual({ gap: '2 s', spikeHeight: '1.4 %' });
    expect(history.undo()).toBe(true);
    expect(history.now).toEqual({ gap: '2 s', spikeHeight: '1.3 %' });
    expect(history.undo()).toBe(true);
    expect(history.now).toEqual({ gap: '2 s' });
    expect(history.undo()).toBe(true);
    expect([history.now, history.canUndo, history.undo()]).toEqual([{}, false, false]);
    history.redo();
    history.redo();
    expect(history.now).toEqual({ gap: '2 s', spikeHeight: '1.3 %' });
    history.set('gap', null);
    expect([history.now, history.canRedo]).toEqual([{ spikeHeight: '1.3 %' }, false]);
  });

  it('takes no step for what changes nothing', () => {
    const history = new ChangeHistory({ gap: '2 s' });
    history.set('gap', '2 s');
    history.set('spikeHeight', null);
    expect(history.canUndo).toBe(false);
  });
});
