import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { LinkMachine } from '../../src/acquisition/link-machine.js';

/** A machine with what it did, and the number of links that it left open. */
function machine() {
  const done: string[] = [];
  let open = 0;
  let mostOpen = 0;
  const it = new LinkMachine('the port', {
    open: () => {
      done.push('open');
      mostOpen = Math.max(mostOpen, ++open);
    },
    close: () => {
      if (open > 0) done.push('close');
      open = 0;
    },
    tell: (item) => done.push(item.kind === 'mark' ? item.mark.kind : item.state),
  });
  return { it, done, open: () => open, mostOpen: () => mostOpen };
}

describe('the state of a link', () => {
  it('a late error after the link was given up starts no second attempt', () => {
    const { it: link, done } = machine();
    link.start(0);
    link.opened(0);
    link.lost(1, 'gone', false);
    const before = [...done];
    const due = link.due();
    link.lost(1.01, 'closed, too', false);
    link.data(1.02);
    link.opened(1.03);
    expect(done).toEqual(before);
    expect(link.due()).toBe(due);
    expect(link.phase).toBe('waiting');
  });

  it('tries again after 0.25, 0.5, 1, 1, ... s, and from the beginning after data', () => {
    const { it: link } = machine();
    link.start(0);
    const waits: number[] = [];
    let time = 0;
    for (let i = 0; i < 6; i++) {
      link.lost(time, 'gone', false);
      waits.push(link.due() - time);
      time = link.due();
      link.at(time);
    }
    expect(waits).toEqual([0.25, 0.5, 1, 1, 1, 1]);
    link.data(time);
    link.lost(time, 'gone', false);
    expect(link.due() - time).toBe(0.25);
  });

  it('silence is five usual intervals and at least 2 s', () => {
    const silence = (interval: number) => {
      const { it: link } = machine();
      link.start(0);
      for (let i = 1; i <= 10; i++) link.data(i * interval);
      return link.due() - 10 * interval;
    };
    expect(silence(0.001)).toBeCloseTo(2);
    expect(silence(0.4)).toBeCloseTo(2);
    expect(silence(1)).toBeCloseTo(5);
    expect(silence(10)).toBeCloseTo(50);
  });

  it('stopped, it wants nothing any more', () => {
    const { it: link, done } = machine();
    link.start(0);
    link.stop();
    const before = [...done];
    link.lost(1, 'gone', false);
    link.data(1);
    link.opened(1);
    link.at(1e6);
    link.ended(1e6);
    expect(done).toEqual(before);
    expect(link.due()).toBe(Infinity);
  });

  it('whatever happens in whatever order: one link at most, marks by turns, and always something to wait for', () => {
    const event = fc.tuple(fc.constantFrom('opened', 'data', 'lost', 'busy', 'due', 'early'), fc.double({ min: 0, max: 3, noNaN: true }));
    fc.assert(
      fc.property(fc.array(event, { maxLength: 200 }), (events) => {
        const { it: link, done, mostOpen } = machine();
        let time = 0;
        link.start(time);
        for (const [what, wait] of events) {
          time += wait;
          if (what === 'opened') link.opened(time);
          else if (what === 'data') link.data(time);
          else if (what === 'lost' || what === 'busy') link.lost(time, what, what === 'busy');
          else if (what === 'due') link.at((time = Math.max(time, link.due())));
          else link.at(time);
          expect(Number.isFinite(link.due())).toBe(true);
        }
        expect(mostOpen()).toBe(1);
        const marks = done.filter((word) => word.startsWith('signal-'));
        expect(marks).toEqual(marks.map((_, i) => (i % 2 === 0 ? 'signal-lost' : 'signal-back')));
      }),
      { numRuns: 500 },
    );
  });
});
