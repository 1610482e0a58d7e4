import { withCrc } from '../../../drivers/modbus-rtu-framing.js';
import type { FaultKind } from './faults.js';

/** What an instrument sends, and what it said by it. */
export interface Said {
  readonly frame: Uint8Array;
  readonly values: readonly { readonly channel: string; readonly value: number }[];
}

/** A driver under test, with an instrument that speaks to it. */
export interface Subject {
  readonly name: string;
  /** Whether a wrong number must never get through. */
  readonly checked: boolean;
  readonly input: object;
  readonly channels: readonly string[];
  /** s between questions or lines. */
  readonly every: number;
  /** s; 0 where the instrument sends by itself. */
  readonly answerWithin: number;
  /** Bits that may be flipped in one answer; and the bytes in which, counted from its start. */
  readonly flips: number;
  readonly flipsWithin?: number;
  /** s, how late an answer may come at most. */
  readonly latest: number;
  /** Faults that this protocol has nothing against, and that its transport keeps away. */
  readonly spared?: readonly FaultKind[];
  /** The answer to a question, or a line where none is asked; `null` where the question is none of its own. */
  say(question: Uint8Array, value: (channel: string) => number): Said | null;
  /** The same with another sender or number. */
  misaddressed(frame: Uint8Array, by: number): Uint8Array;
}

const float = (value: number): Uint8Array => {
  const bytes = Buffer.alloc(4);
  bytes.writeFloatBE(value);
  return bytes;
};
const text = (line: string): Uint8Array => Buffer.from(line, 'latin1');
const fixed = (value: number): string => `+${value.toFixed(2).padStart(7, '0')} bar`;

const values = [{ value: 'pressure', type: 'float32', address: 0 }, { value: 'second', type: 'float32', address: 16 }];
const channelAt = (address: number) => (address === 16 ? 'second' : 'pressure');

/** The answer to a question for registers: whole values, or the first part of one. */
function registers(address: number, count: number, value: (channel: string) => number): { content: Uint8Array; values: Said['values'] } {
  const channel = channelAt(address);
  const own = value(channel);
  const content = new Uint8Array(count * 2);
  content.set(float(own).subarray(0, content.length));
  return { content, values: count === 2 ? [{ channel, value: own }] : [] };
}

const xorOf = (body: string): string => {
  let sum = 0;
  for (const character of body) sum ^= character.charCodeAt(0);
  return sum.toString(16).toUpperCase().padStart(2, '0');
};

const line = (name: string, input: object, checked: boolean, write: (value: number) => string, more: Partial<Subject> = {}): Subject => ({
  name, checked, input: { firstLine: 'keep', ...input }, channels: ['pressure'], every: 0.1, answerWithin: 0, flips: 3, latest: 0.5,
  say(_question, value) {
    const own = value('pressure');
    return { frame: text(write(own)), values: [{ channel: 'pressure', value: own }] };
  },
  misaddressed: (frame) => frame,
  spared: ['wrong id'],
  ...more,
});

const port = { driver: 'serial-line', path: '/dev/ttyBENCH' };
const asked = { every: 0.5, answerWithin: 0.15, latest: 0.29 };
const poll = { query: '?\r', every: '500 ms', answerWithin: '150 ms' };

export const subjects: readonly Subject[] = [
  {
    name: 'modbus-rtu', checked: true, channels: ['pressure', 'second'], every: 0.5, answerWithin: 0.15, flips: 3, latest: 4,
    input: { driver: 'modbus-rtu', path: '/dev/ttyBENCH', addressBase: 0, every: '500 ms', answerWithin: '150 ms', values },
    say(question, value) {
      if (question.length !== 8) return null;
      const request = Buffer.from(question);
      const { content, values: said } = registers(request.readUInt16BE(2), request.readUInt16BE(4), value);
      return { frame: withCrc(Uint8Array.of(1, 3, content.length, ...content)), values: said };
    },
    misaddressed: (frame, by) => withCrc(Uint8Array.of(2 + (by % 240), ...frame.subarray(1, -2))),
  },
  {
    name: 'modbus-tcp', checked: true, channels: ['pressure', 'second'], every: 0.5, answerWithin: 0.15, latest: 4,
    // The values of a Modbus TCP answer carry no checksum: TCP's own keeps flipped bits away. Those of the header are tried.
    flips: 3, flipsWithin: 9,
    input: { driver: 'modbus-tcp', host: '192.0.2.7', addressBase: 0, every: '500 ms', answerWithin: '150 ms', values },
    say(question, value) {
      if (question.length !== 12) return null;
      const request = Buffer.from(question);
      const { content, values: said } = registers(request.readUInt16BE(8), request.readUInt16BE(10), value);
      return { frame: Uint8Array.of(...question.subarray(0, 4), 0, content.length + 3, 1, 3, content.length, ...content), values: said };
    },
    misaddressed(frame, by) {
      const other = Uint8Array.from(frame);
      other[by % 2 === 0 ? 1 : 6] = ((other[by % 2 === 0 ? 1 : 6] ?? 0) + 1 + (by % 200)) & 0xff;
      return other;
    },
  },
  // An exclusive-or sum finds every single flipped bit, not two in the same column.
  line('serial-line with a checksum', { ...port, checksum: 'xor', lineLength: 16 }, true, (value) => `$${fixed(value)}*${xorOf(fixed(value))}\r\n`, { flips: 1 }),
  line('serial-line', { ...port }, false, (value) => `${fixed(value)}\r\n`),
  line('serial-line of fixed width', { ...port, lineLength: 12 }, false, (value) => `${fixed(value)}\r\n`),
  line('serial-line, asked', { ...port, lineLength: 12, poll }, false, (value) => `${fixed(value)}\r`, asked),
  line('tcp-line', { driver: 'tcp-line', host: '192.0.2.7', port: 4001, lineLength: 12 }, false, (value) => `${fixed(value)}\r\n`),
];
