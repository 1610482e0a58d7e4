import { describe, expect, it } from 'vitest';
import { PollGrid } from '../../drivers/poll-grid.js';
import { FakeWiring } from './fake-wiring.js';
import { listen } from './listen.js';

const poll = { query: '?P\r', every: '100 ms', answerWithin: '1 s' };

/** An instrument that answers each question after `delay` (s) with the next number. */
function asked(delay: () => number | null, more: Readonly<Record<string, unknown>> = {}) {
  const wiring = new FakeWiring();
  const times: number[] = [];
  let open = 0;
  let mostOpen = 0;
  let next = 100;
  let answer = (): void => {};
  wiring.onSend = () => answer();
  // The port opens before the test holds the clock, and asks only when the clock moves.
  const link = listen({ poll, firstLine: 'drop', settleAfterOpen: '1 s', ...more }, wiring);
  answer = () => {
    times.push(link.clock.now());
    const wait = delay();
    if (wait === null) return;
    mostOpen = Math.max(mostOpen, ++open);
    const value = next++;
    link.clock.after(wait, () => {
      open -= 1;
      link.wiring.receive(`${value}.0\r`);
    });
  };
  return { ...link, times, mostOpen: () => mostOpen };
}
const gaps = (times: readonly number[]) => times.slice(1).map((time, i) => time - (times[i] ?? 0));

describe('an instrument that is asked', () => {
  it('is asked on a fixed grid, and its first answer is whole', () => {
    const link = asked(() => 0.02);
    link.clock.to(2.05);
    expect(link.times).toHaveLength(11);
    link.times.forEach((time, i) => expect(time).toBeCloseTo(1 + 0.1 * i, 9));
    expect(link.values()).toEqual([100, 101, 102, 103, 104, 105, 106, 107, 108, 109, 110]);
    expect(link.wiring.sent[0]).toBe('?P\r');
  });

  // FC-18: https://github.com/ModbusScope/ModbusScope/issues/17, https://github.com/sanny32/OpenModScan/issues/62
  it('FC-18: a slow one is not flooded, neither while it is slow nor after an outage', () => {
    let wait: number | null = 0.14;
    const link = asked(() => wait);
    link.clock.to(11);
    expect(link.mostOpen()).toBe(1);
    expect(link.values().length).toBeGreaterThanOrEqual(49);
    expect(link.values().length).toBeLessThanOrEqual(51);
    wait = null;
    link.clock.to(16);
    wait = 0.02;
    const before = link.times.length;
    link.clock.to(20);
    expect(link.times.length - before).toBeGreaterThan(15);
    for (const gap of gaps(link.times)) expect(gap).toBeGreaterThan(0.0999);
    expect(link.faults().every((fault) => fault === 'no-answer')).toBe(true);
    expect(link.faults().length).toBeGreaterThanOrEqual(2);
    expect(link.notices()).toContain('poll-skipped');
  });

  // After FC-12, on a line without frame numbers: https://github.com/eModbus/eModbus/issues/74
  it('never takes a late answer for the next one', () => {
    // The late one comes after its time and before the next would have come.
    const waits = [0.02, 1.01, 0.02, 0.02];
    const link = asked(() => waits.shift() ?? 0.02, { poll: { ...poll, every: '500 ms' } });
    link.clock.to(6);
    expect(link.faults()).toEqual(['no-answer']);
    expect(link.dropped()).toEqual(['unasked: 101.0']);
    expect(link.values().slice(0, 3)).toEqual([100, 102, 103]);
  });

  it('does not make up for ticks that passed while the computer was busy', () => {
    const grid = new PollGrid({ query: '?', every: 0.1, answerWithin: 1 }, 5);
    let asked = 0;
    const sink = { ask: () => asked++, unanswered: () => {}, skipped: () => {} };
    grid.at(5, sink);
    grid.answered();
    grid.at(5.96, sink);
    grid.answered();
    expect(asked).toBe(2);
    expect(grid.due()).toBeCloseTo(6, 9);
    grid.at(5.97, sink);
    expect(asked).toBe(2);
  });

  it.each([
    ['by the grid', { poll }, 1.16],
    ['by its time-out', { poll: { ...poll, every: '500 ms', answerWithin: '100 ms' } }, 1.55],
  ])('an answer that came while the computer was busy is not taken for late %s', (_what, more, until) => {
    const link = listen({ ...more, settleAfterOpen: '1 s' });
    link.clock.to(1);
    expect(link.wiring.sent).toEqual(['?P\r']);
    // The system hands out timers first, then what arrived.
    link.clock.stall(0.15);
    link.wiring.receive('350.0\r');
    link.clock.to(until);
    expect(link.values()).toEqual([350]);
    expect(link.faults()).toEqual([]);
    expect(link.notices()).toEqual([]);
    expect(link.wiring.sent).toHaveLength(2);
  });

  it('with minutes between the questions, a missing line end is still told after 3 s', () => {
    const link = listen({ poll: { query: '?', every: '300 s', answerWithin: '60 s' }, delimiter: '\n' });
    link.clock.to(1);
    link.wiring.receive('350.0\r');
    link.clock.to(4.1);
    expect(link.items.filter((item) => item.kind === 'notice' && item.code === 'no-line-end')).toMatchObject([{ time: 4 }]);
  });

  it('drops what comes unasked', () => {
    const link = asked(() => 0.02);
    link.clock.to(1.05);
    link.wiring.receive('999.0\r');
    expect(link.values()).toEqual([100]);
    expect(link.dropped()).toEqual(['unasked: 999.0']);
  });

  it('leaves no timer behind when it is no longer wanted', () => {
    const link = listen({ poll });
    expect(link.clock.waiting).toBe(1);
    link.subscription.unsubscribe();
    expect(link.clock.waiting).toBe(0);
    expect(link.wiring.openLinks).toBe(0);
  });
});
