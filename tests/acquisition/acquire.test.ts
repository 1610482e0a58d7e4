import { describe, expect, it } from 'vitest';
import { LinkError } from '../../drivers/wiring.js';
import { Flag } from '../../src/core/trace.js';
import { FakeWiring } from '../drivers/fake-wiring.js';
import { benchLink } from './bench-link.js';

describe('a link that fails', () => {
  // FC-04: https://github.com/serialport/node-serialport/issues/2043, https://github.com/SignalK/signalk-server/issues/1566
  it('FC-04: silence without any event is noticed, told and met by opening again', () => {
    const link = benchLink();
    link.stream(10);
    link.clock.to(11.9);
    expect(link.states().at(-1)).toBe('live');
    link.clock.to(12.05);
    expect(link.states().at(-1)).toBe('silent');
    expect(link.marks()).toEqual(['signal-lost 12.0']);
    link.clock.to(24.95);
    // The first opening and at least two more.
    expect(link.wiring.opened.length).toBeGreaterThanOrEqual(3);
    expect(link.wiring.openLinks).toBeLessThanOrEqual(1);
    link.stream(27);
    // Whatever the state of the retries: back within 2 s, with the gap marked.
    expect(link.states().at(-1)).toBe('live');
    expect(link.marks()).toHaveLength(2);
    const times = link.samples().map((sample) => sample.time);
    const gap = times.slice(1).map((time, i) => time - (times[i] ?? 0)).filter((step) => step > 1);
    expect(gap).toHaveLength(1);
    expect(gap[0]).toBeGreaterThan(14.9);
    expect(gap[0]).toBeLessThan(17.1);
    expect(link.good().every((pressure) => pressure === 350)).toBe(true);
  });

  // FC-09 (c): https://github.com/serialport/node-serialport/issues/174
  it('FC-09: busy three times is told once and tried on; the fourth opening is connected', () => {
    const wiring = new FakeWiring();
    for (let i = 0; i < 3; i++) wiring.failures.push(new LinkError('busy', '/dev/ttyBENCH is in use by another program'));
    const link = benchLink({}, {}, wiring);
    link.clock.to(3);
    expect(wiring.opened).toHaveLength(4);
    link.stream(4);
    expect(link.states()).toEqual(['connecting', 'busy', 'connecting', 'live']);
    expect(link.acquired.find((item) => item.kind === 'state' && item.state === 'busy')).toMatchObject({ text: '/dev/ttyBENCH is in use by another program; trying again' });
    expect(link.ends).toEqual([]);
    // It had never been live: nothing was lost.
    expect(link.marks()).toEqual([]);
  });

  // FC-10 (b): https://github.com/serialport/node-serialport/issues/867
  it('FC-10: a reopening that resets the instrument marks gap and restart, and its zeros are no samples', () => {
    const link = benchLink({}, { settleAfterOpen: '2 s' });
    link.clock.to(3);
    link.stream(10, '351.0');
    link.wiring.lose();
    link.clock.to(10.5);
    link.wiring.receive(Buffer.from([0, 0, 13, 10]));
    link.wiring.receive('BOOT v1.2\r\n0.0\r\n');
    link.clock.to(13);
    link.stream(20, '351.0');
    expect(link.marks()).toEqual(['signal-lost 10.0', 'device-restart 10.5', 'signal-back 10.5']);
    expect(new Set(link.samples().map((sample) => sample.pressure))).toEqual(new Set([351]));
    expect(link.acquired.filter((item) => item.kind === 'dropped').map((item) => item.why)).toContain('settling');
  });

  it('a pulled cable is marked at once and is back within 2 s of the replug, however long it was out', () => {
    const link = benchLink();
    link.stream(5);
    link.wiring.unplugged = true;
    link.wiring.lose();
    link.clock.to(5000);
    expect(link.marks()).toEqual(['signal-lost 5.0']);
    // Told once, not once a second for an hour.
    expect(link.acquired.filter((item) => item.kind === 'state')).toHaveLength(4 + 1);
    link.wiring.unplugged = false;
    const at = link.clock.now();
    link.stream(at + 3);
    const back = link.samples().find((sample) => sample.time > at);
    expect(back?.time).toBeLessThan(at + 2);
    expect(link.marks().at(-1)).toMatch(/^signal-back/);
  });

  // FC-28: https://github.com/serialport/node-serialport/issues/284
  it('FC-28: a thousand losses leave one link, one timer and no listener behind', () => {
    const link = benchLink();
    const cycle = () => {
      link.wiring.lose();
      link.clock.pass(1.1);
      link.wiring.receive('350.0\r\n');
      link.clock.pass(0.1);
    };
    for (let i = 0; i < 10; i++) cycle();
    const [links, timers] = [link.wiring.openLinks, link.clock.waiting];
    for (let i = 0; i < 990; i++) cycle();
    expect([link.wiring.openLinks, link.clock.waiting]).toEqual([links, timers]);
    expect(links).toBe(1);
    expect(link.good()).toHaveLength(1000);
    link.subscription.unsubscribe();
    expect([link.wiring.openLinks, link.clock.waiting]).toEqual([0, 0]);
  });

  it('stopped while it waits: no new opening, no timer', () => {
    const link = benchLink();
    link.wiring.unplugged = true;
    link.wiring.lose();
    const opened = link.wiring.opened.length;
    link.subscription.unsubscribe();
    link.clock.to(100);
    expect(link.wiring.opened).toHaveLength(opened);
    expect(link.clock.waiting).toBe(0);
  });

  it('a slow instrument is not taken for a dead one', () => {
    for (const interval of [3, 10, 15]) {
      const link = benchLink();
      link.stream(300, '350.0', interval);
      const lost = link.marks().filter((mark) => mark.startsWith('signal-lost'));
      // Until its interval is known it may be closed once or twice, never after.
      expect(lost.length).toBeLessThanOrEqual(2);
      expect(link.acquired.filter((item) => item.kind === 'mark' && item.mark.time > 100)).toEqual([]);
    }
    const told = benchLink({ usualInterval: '60 s' });
    told.stream(1200, '350.0', 60);
    expect(told.marks()).toEqual([]);
    expect(told.good()).toHaveLength(20);
  });

  it('time-outs of an instrument that is asked are no sign of life', () => {
    const link = benchLink({}, { poll: { query: '?\r', every: '100 ms', answerWithin: '200 ms' } });
    link.wiring.onSend = () => link.wiring.receive('350.0\r');
    link.clock.to(5);
    expect(link.states().at(-1)).toBe('live');
    link.wiring.onSend = () => {};
    link.clock.to(7.2);
    expect(link.states().at(-1)).toBe('silent');
    expect(link.samples().at(-1)).toMatchObject({ flags: Flag.unreadable, fault: 'no-answer', pressure: NaN });
  });
});

describe('what a channel delivers', () => {
  // FC-06: https://github.com/N0ury/dmm_util/issues/26
  it('FC-06: a missing reading is a flagged sample without a number', () => {
    const link = benchLink();
    for (const line of ['350.1', '+OL', '-OL', '----', 'ERR', '+9.90000000E+37', '-9.91E37', '1500.1', '350.2']) link.wiring.receive(`${line}\r\n`);
    const { good, overRange, underRange, unreadable, fault, implausible } = Flag;
    expect(link.samples().map((sample) => sample.flags)).toEqual([good, overRange, underRange, unreadable, fault, overRange, underRange, implausible, good]);
    expect(link.samples().map((sample) => sample.pressure)).toEqual([350.1, NaN, NaN, NaN, NaN, NaN, NaN, NaN, 350.2]);
    expect(link.samples().map((sample) => sample.raw)[4]).toBe('ERR');
  });

  // FC-08: https://github.com/serialport/node-serialport/issues/2137
  it('FC-08: wrong parity is flagged samples and one hint, with the link alive', () => {
    const link = benchLink();
    for (let i = 0; i < 10; i++) {
      link.clock.pass(0.1);
      link.wiring.receive(Buffer.from('3335B22EB18D0A', 'hex'));
    }
    expect(link.good()).toEqual([]);
    expect(link.samples()).toHaveLength(10);
    expect(link.acquired.filter((item) => item.kind === 'notice' && item.code === 'check-parity')).toHaveLength(1);
    expect(link.states().at(-1)).toBe('live');
  });

  it('FC-02: the hint at a wrong line end comes before the link is given up', () => {
    const link = benchLink({}, { delimiter: '\n' });
    link.wiring.receive('+0101.3\r+0101.4\r');
    link.clock.to(4);
    expect(link.acquired.filter((item) => item.kind === 'notice' && item.code === 'no-line-end')).toHaveLength(1);
    expect(link.wiring.opened).toHaveLength(1);
  });

  // FC-43: https://dicasdeinstrumentacao.com/o-que-e-namur-ne-43
  it('FC-43: a saturated loop is no hold and a broken wire no burst', () => {
    const link = benchLink(
      { unit: 'mA', range: { upper: '600 bar' }, scaling: { lower: { reading: 4, pressure: '0 bar' }, upper: { reading: 20, pressure: '600 bar' } } },
      {},
    );
    link.stream(60, '20.500 mA');
    link.stream(61, '3.200 mA');
    const saturated = link.samples().filter((sample) => sample.flags === Flag.saturated);
    expect(saturated).toHaveLength(600);
    expect(saturated[0]?.pressure).toBeCloseTo(618.75, 9);
    const broken = link.samples().slice(600);
    expect(broken.map((sample) => [sample.flags, sample.pressure])).toEqual(broken.map(() => [Flag.fault, NaN]));
    expect(broken).toHaveLength(10);
    expect(link.good()).toEqual([]);
  });

  it('contacts on the same line are marks when they change', () => {
    const link = benchLink({}, { pattern: '(?<value>\\S+) L(?<lid>\\d)P(?<pump>\\d)', contacts: { lid: { open: '0', closed: '1' }, pump: { on: '1', off: '0' } } });
    for (const line of ['1.0 L0P0', '1.0 L1P0', '2.0 L1P1', '3.0 L1P1', '3.0 L0P1']) {
      link.clock.pass(1);
      link.wiring.receive(`${line}\r\n`);
    }
    expect(link.marks()).toEqual(['lid-open 1.0', 'pump-off 1.0', 'lid-closed 2.0', 'pump-on 3.0', 'lid-open 5.0']);
    expect(link.good()).toEqual([1, 1, 2, 3, 3]);
  });

  it('an instrument that says that it restarted is marked so, in mid-stream', () => {
    const link = benchLink({}, { restartLines: 'BOOT.*', settleAfterOpen: '1 s' });
    link.clock.to(1.5);
    link.stream(5);
    link.wiring.receive('BOOT v1.2\r\n0.0\r\n');
    link.clock.to(6);
    link.stream(8);
    expect(link.marks()).toEqual(['device-restart 5.0']);
    expect(new Set(link.good())).toEqual(new Set([350]));
  });

  it('a recording that is over ends the stream, with a mark', async () => {
    const wiring = new FakeWiring();
    wiring.files.set('run.csv', 'time_s,pressure_bar\n0,1\n1,2\n');
    const link = benchLink({ input: { driver: 'replay', path: 'run.csv', speed: 10 } }, {}, wiring);
    await Promise.resolve().then(() => Promise.resolve());
    link.clock.to(1);
    expect(link.good()).toEqual([1, 2]);
    // A mark does not lie before the sample that it follows.
    expect(link.marks()).toEqual(['signal-lost 1.0']);
    expect(link.ends).toEqual(['complete']);
    expect(link.clock.waiting).toBe(0);
  });

  it('a mistake of the program is said and tried again, and does not end the recording', () => {
    const link = benchLink();
    link.stream(1);
    link.wiring.fail(new TypeError('x is not a function'));
    expect(link.acquired.at(-1)).toMatchObject({ kind: 'state', state: 'waiting', text: 'unexpected error (x is not a function); trying again' });
    link.stream(3);
    expect(link.states().at(-1)).toBe('live');
    expect(link.ends).toEqual([]);
  });

  it('two subscribers have a link and a memory each', () => {
    const one = benchLink();
    const two = benchLink({}, {}, one.wiring);
    expect(one.wiring.openLinks).toBe(2);
    two.subscription.unsubscribe();
    expect(one.wiring.openLinks).toBe(1);
  });
});
