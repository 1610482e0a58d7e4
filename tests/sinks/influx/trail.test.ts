import { describe, expect, it } from 'vitest';
import { freshCursor } from '../../../src/sinks/influx/cursor.js';
import { Trail } from '../../../src/sinks/influx/trail.js';

const at = (events: number) => ({ ...freshCursor(), events });

describe('the trail of cursors', () => {
  it('trusts a cursor only once it has settled', () => {
    const trail = new Trail(at(0), 60_000);
    for (let i = 1; i <= 100; i++) trail.add(at(i), i * 1000);
    expect(trail.settle(60_999)).toBe(false);
    expect(trail.settle(61_000)).toBe(true);
    expect(trail.base.events).toBe(1);
    expect(trail.settle(110_000)).toBe(true);
    expect(trail.base.events).toBe(50);
    expect(trail.rewind().events).toBe(50);
    // What was not settled is forgotten: it will be acknowledged anew.
    expect(trail.settle(1e9)).toBe(false);
  });

  it('keeps few of many, and never settles one too early', () => {
    const trail = new Trail(at(0), 60_000);
    for (let i = 1; i <= 100_000; i++) {
      trail.add(at(i), i);
      trail.settle(i);
      expect(trail.base.events).toBeLessThanOrEqual(Math.max(0, i - 60_000));
    }
    trail.settle(160_000);
    expect(trail.base.events).toBe(100_000);
  });
});
