import { describe, expect, it } from 'vitest';
import { inputKeys, inputSchema, sourceOf } from '../../drivers/index.js';
import { problemsOf } from '../../src/core/problems.js';

const problems = (input: Readonly<Record<string, unknown>>): string[] => {
  const found = inputSchema.safeParse(input);
  return found.success ? [] : problemsOf(found.error, input, inputKeys).map(({ place, text }) => `${place}: ${text}`);
};
const serial = (more: Readonly<Record<string, unknown>>) => problems({ driver: 'serial-line', path: '/dev/ttyBENCH', ...more });

describe('options of an input', () => {
  it('need little', () => {
    expect(serial({})).toEqual([]);
    expect(problems({ driver: 'tcp-line', host: '192.0.2.10', port: 4001 })).toEqual([]);
    expect(problems({ driver: 'replay', path: 'run.csv' })).toEqual([]);
  });

  it.each<[Record<string, unknown>, RegExp]>([
    [{ baudrate: 9600 }, /^baudrate: unknown key; did you mean 'baudRate'/],
    [{ baudRate: '9600 baud' }, /^baudRate: '9600 baud' should be a number/],
    [{ baudRate: 9600.5 }, /^baudRate: 9600.5 should be a whole number from 50 to 4000000: the baud rate/],
    [{ parity: 'mark' }, /^parity: 'mark' should be one of none, even, odd/],
    [{ dataBits: 9 }, /^dataBits: should be 7 or 8/],
    [{ match: { serial: 'A1' } }, /^path: name the port in one way only/],
    [{ path: undefined }, /^path: missing; name the port by path, or by match/],
    [{ path: undefined, match: { id: 'FTDI' } }, /^match.id: should be maker:product such as 1a86:7523/],
    [{ pattern: '(' }, /^pattern: '\(' is not a regular expression/],
    [{ pattern: 'P=(.*)' }, /^pattern: 'P=\(\.\*\)' must name its number: \(\?<value>\.\.\.\)/],
    [{ column: 2 }, /^columns: missing; say how many columns/],
    [{ column: 3, columns: 2 }, /^column: 3 is beyond the 2 columns/],
    [{ separator: ';' }, /^separator: needs column/],
    [{ column: 1, columns: 2, separator: '.' }, /^separator: '\.' is the decimal sign/],
    [{ settleAfterOpen: 2 }, /^settleAfterOpen: '2' has no unit; write for example '2 s'/],
    [{ poll: { query: '?', every: '1 ms' } }, /^poll.every: '1 ms' should be 0.005 s to 3600 s/],
    [{ contacts: { lid: { open: '0', closed: '1' } } }, /^contacts: lid needs a pattern that names \(\?<lid>/],
    [{ lineLength: 100, maximumLineLength: 50 }, /^lineLength: 100 is beyond maximumLineLength 50/],
    [{ delimiter: '' }, /^delimiter: /],
    [{ label: 'P 1' }, /^label: should be the name before = or :/],
  ])('%j is refused in one sentence', (more, sentence) => {
    const found = serial(more);
    expect(found).toHaveLength(1);
    expect(found[0]).toMatch(sentence);
  });

  it('an unknown driver is quoted with the one that may be meant, or with the known ones', () => {
    expect(problems({ driver: 'seriel-line' })).toEqual(["driver: 'seriel-line' is no driver; did you mean 'serial-line'?"]);
    expect(problems({ driver: 'gpib' })).toEqual(["driver: 'gpib' is no driver; known are serial-line, tcp-line, modbus-rtu, modbus-tcp, replay"]);
    expect(problems({})).toEqual(['driver: needs a driver: one of serial-line, tcp-line, modbus-rtu, modbus-tcp, replay']);
  });

  it.each([
    [{ driver: 'serial-line', path: '/dev/ttyBENCH', parity: 'even', dataBits: 7 }, '/dev/ttyBENCH (9600 7E1)'],
    [{ driver: 'serial-line', match: { serial: 'A1' }, baudRate: 19200 }, 'the adapter with serial number A1 (19200 8N1)'],
    [{ driver: 'tcp-line', host: '192.0.2.10', port: 4001 }, '192.0.2.10:4001'],
    [{ driver: 'replay', path: 'run.csv' }, 'the recording run.csv'],
  ])('%j is described for people', (input, where) => expect(sourceOf(inputSchema.parse(input)).where).toBe(where));
});
