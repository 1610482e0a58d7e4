import { describe, expect, it } from 'vitest';
import type { FoundEvent } from '../../src/core/outcome.js';
import { beginRun, freshRun, keepDoubt, keepEvent, keepRemark, notesOf } from '../../src/core/reading/run-state.js';

const spikeAt = (at: number): FoundEvent => ({ kind: 'spike', at, height: 5, width: 0.01, pressure: 300 });

describe('what is kept of a run', () => {
  it('takes along what was found just before it began, and nothing older', () => {
    const idle = freshRun();
    for (const at of [3, 9, 9.5]) keepEvent(idle, spikeAt(at));
    const run = beginRun(idle, 8, 9);
    expect(run).toEqual({ ...freshRun(), open: true, from: 8, events: [spikeAt(9), spikeAt(9.5)] });
    expect(idle.events).toHaveLength(3);
  });

  it('is its first 4,000 events; more are counted and told', () => {
    const run = beginRun(freshRun(), 0, 0);
    for (let i = 0; i < 4003; i++) keepEvent(run, spikeAt(i));
    expect(run.events.map(({ at }) => at)).toEqual(Array.from({ length: 4000 }, (_, i) => i));
    expect(notesOf(run)).toEqual(['3 more events were counted but not listed.']);
  });

  it('is the newest where no run is open, and nothing counts as left out', () => {
    const idle = freshRun();
    for (let i = 0; i < 4001; i++) keepEvent(idle, spikeAt(i));
    expect(idle.events.map(({ at }) => at)).toEqual(Array.from({ length: 2001 }, (_, i) => i + 2000));
    expect(notesOf(idle)).toEqual([]);
  });

  it('is twenty doubts and twenty remarks; a doubt concerns an open run only', () => {
    const [idle, run] = [freshRun(), beginRun(freshRun(), 0, 0)];
    for (let i = 0; i < 25; i++) {
      keepDoubt(idle, i, `doubt ${i}`);
      keepDoubt(run, i, `doubt ${i}`);
      keepRemark(run, `remark ${i}`);
    }
    expect(idle.doubts).toEqual([]);
    expect(run.doubts.at(-1)).toEqual({ at: 19, text: 'doubt 19' });
    expect(notesOf(run).at(-1)).toBe('remark 19');
  });
});
