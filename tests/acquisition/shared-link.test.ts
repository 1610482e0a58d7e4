import { describe, expect, it } from 'vitest';
import { acquireLink, type Acquired } from '../../src/acquisition/acquire.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { judgedChannel } from '../../src/acquisition/judged-channel.js';
import { InputError } from '../../src/core/problems.js';
import { parsePlan } from '../../src/core/plan.js';
import { bytesOf, hexOf } from '../drivers/modbus-link.js';
import { FakeWiring } from '../drivers/fake-wiring.js';
import { VirtualClock } from '../drivers/virtual-clock.js';

const gateway = {
  instrument: 'gateway',
  input: {
    driver: 'modbus-tcp', host: '192.0.2.12', addressBase: 0, every: '1 s', answerWithin: '300 ms',
    values: [
      { value: 'low', address: 0, type: 'float32' },
      { value: 'high', address: 2, type: 'float32' },
      { value: 'lid', table: 'discrete', address: 0 },
      { value: 'pump', table: 'discrete', address: 1 },
    ],
  },
};
const channels = [
  { channel: 'high', instrument: 'gateway', unit: 'bar', range: { upper: '1000 bar' } },
  { channel: 'low', instrument: 'gateway', unit: 'bar', range: { upper: '250 bar' } },
];
const right = { bench: 'north', instruments: [gateway], channels, contacts: { lid: { instrument: 'gateway' }, pump: { instrument: 'gateway', on: 0 } } };
const problems = (input: object): string[] => {
  try {
    parseBench(input, 'b');
  } catch (error) {
    if (error instanceof InputError) return error.message.split('\n');
    throw error;
  }
  return [];
};

describe('several channels and contacts on one link', () => {
  function begin() {
    const wiring = new FakeWiring();
    const clock = new VirtualClock();
    const [link] = parseBench(right, 'bench.yaml').links;
    if (link === undefined) throw new Error('the bench has no link');
    const items: Acquired[] = [];
    acquireLink(link, wiring, clock).subscribe((item) => items.push(item));
    clock.pass(0.01);
    let number = 0;
    /** Answers the open question with these bytes after the header. */
    const answer = (pdu: string) => {
      const frame = bytesOf(`0000 0000 0000 01 ${pdu}`);
      frame.writeUInt16BE(++number, 0);
      frame.writeUInt16BE(frame.length - 6, 4);
      wiring.receive(frame);
    };
    const samples = () => items.flatMap((item) => (item.kind === 'sample' ? [`${item.channel} ${item.pressure}`] : []));
    const marks = () => items.flatMap((item) => (item.kind === 'mark' ? [item.mark.kind] : []));
    const lost = () => items.flatMap((item) => (item.kind === 'contact-lost' ? [`${item.contact}: ${item.text}`] : []));
    return { wiring, clock, answer, samples, marks, lost };
  }
  const pressures = '03 08 43 48 00 00 43 48 33 33';

  it('are two questions in a round, and each value goes where it belongs', () => {
    const link = begin();
    link.answer(pressures);
    link.answer('02 01 01');
    expect(link.wiring.sent.map((frame) => hexOf(frame))).toEqual(['00 01 00 00 00 06 01 03 00 00 00 04', '00 02 00 00 00 06 01 02 00 00 00 02']);
    expect(link.samples()).toEqual(['low 200', `high ${Math.fround(200.2)}`]);
    expect(link.marks()).toEqual(['lid-closed', 'pump-on']);
    link.clock.pass(1);
    link.answer(pressures);
    link.answer('02 01 02');
    link.clock.pass(1);
    link.answer(pressures);
    link.answer('02 01 02');
    expect(link.marks()).toEqual(['lid-closed', 'pump-on', 'lid-open', 'pump-off']);
  });

  it('a contact that is refused for two seconds is lost, one that is refused once is not', () => {
    const link = begin();
    for (const contacts of ['02 01 01', '82 06', '02 01 01', '82 06', '82 06', '82 06', '02 01 01']) {
      link.answer(pressures);
      link.answer(contacts);
      link.clock.pass(1);
    }
    expect(link.lost()).toEqual(['lid: the lid contact cannot be read (exception 6: server device busy)', 'pump: the pump contact cannot be read (exception 6: server device busy)']);
    // What is read after that is news again.
    expect(link.marks()).toEqual(['lid-closed', 'pump-on', 'lid-closed', 'pump-on']);
  });

  it('a lost link loses its contacts', () => {
    const link = begin();
    link.answer(pressures);
    link.answer('02 01 01');
    link.wiring.lose();
    expect(link.lost()).toEqual(['lid: the port is gone', 'pump: the port is gone']);
    expect(link.marks()).toEqual(['lid-closed', 'pump-on', 'signal-lost']);
  });
});

describe('names in a bench file', () => {
  it('a right one has one link, and keeps the order of its channels', () => {
    const bench = parseBench(right, 'bench.yaml');
    expect(bench.links.map(({ name, place }) => [name, place])).toEqual([['gateway', 'instruments.0.input']]);
    expect(bench.channels.map(({ channel, value }) => [channel, value])).toEqual([['high', 'high'], ['low', 'low']]);
    expect(bench.channel.channel).toBe('high');
  });
  it.each([
    ['an unknown instrument', { channels: [{ ...channels[0], instrument: 'gate' }] }, "b: channels.0.instrument: 'gate' is not one of the instruments of this bench: gateway"],
    ['an unknown value', { channels: [{ ...channels[0], value: 'hi' }] }, "b: channels.0.value: 'hi' is not one of the values of this instrument: low, high, lid, pump"],
    ['a value that must be named', { channels: [{ ...channels[0], channel: 'pressure' }] }, 'b: channels.0.value: missing; the instrument has several values, say which: low, high, lid, pump'],
    ['two channels of one name', { channels: [channels[0], { ...channels[1], channel: 'high', value: 'low' }] }, "b: channels.1.channel: 'high' is the name of another channel, too; give each a name of its own"],
    ['input and instrument', { channels: [{ ...channels[0], input: gateway.input }] }, 'b: channels.0.input: name either an input or an instrument, not both'],
    ['neither', { channels: [{ ...channels[0], instrument: undefined }] }, 'b: channels.0.input: missing; say where the channel is read, or name its instrument where several channels share one'],
    ['nothing on the manifold', { channels: [{ ...channels[0], place: 'elsewhere' }] }, 'b: channels: at least one channel should be on the manifold: nothing could be judged'],
    ['a contact of no instrument', { contacts: { lid: { instrument: 'io' } } }, "b: contacts.lid.instrument: 'io' is not one of the instruments of this bench: gateway"],
    ['a contact without its value', { contacts: { vent: { instrument: 'gateway' } } }, "b: contacts.vent.value: 'vent' is not one of the values of this instrument: low, high, lid, pump"],
    ['a contact of 2', { contacts: { lid: { instrument: 'gateway', closed: 2 } } }, 'b: contacts.lid.closed: should be 0 or 1: what is read while the lid is shut'],
    ['a safe limit within the range', { channels: [{ ...channels[0], safeLimit: '900 bar' }] }, 'b: channels.0.safeLimit: should not be below the upper end of the range'],
  ])('%s', (_name, change, says) => {
    expect(problems({ ...right, contacts: {}, ...change })).toEqual([says]);
  });
  it('a recording is looked for beside the bench file', () => {
    const bench = parseBench({ bench: 'b', channels: [{ input: { driver: 'replay', path: 'runs/one.csv' }, unit: 'bar', range: { upper: '1000 bar' } }] }, '/etc/benches/north.yaml');
    expect(bench.channel.input).toMatchObject({ path: '/etc/benches/runs/one.csv' });
  });
});

describe('the channel that is judged', () => {
  const bench = parseBench(right, 'bench.yaml');
  const judged = (testPressure: string, ceilingPressure?: string) =>
    judgedChannel(bench.channels, parsePlan({ plan: 'p', testPressure, holdTime: '10 s', ...(ceilingPressure && { ceilingPressure }) }, 'plan'))?.channel;
  it.each([
    ['200 bar', undefined, 'low'],
    ['200 bar', '240 bar', 'low'],
    ['200 bar', '249 bar', 'high'],
    ['245 bar', undefined, 'low'],
    ['246 bar', undefined, 'high'],
    ['550 bar', '600 bar', 'high'],
    ['2000 bar', undefined, 'high'],
  ])('of a plan for %s with ceiling %s is %s', (test, ceiling, right_) => {
    expect(judged(test, ceiling)).toBe(right_);
  });
  it('without a plan is the widest', () => {
    expect(judgedChannel(bench.channels, null)?.channel).toBe('high');
  });
});
