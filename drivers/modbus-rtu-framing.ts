import type { Block } from './modbus-blocks.js';
import { modbusCrc } from './modbus-crc.js';
import type { FramingSink, ModbusFraming } from './modbus-framing.js';
import { byteCountOf, readAnswer, requestPdu, type Answer } from './modbus-pdu.js';

/** Bytes of an answer that are kept; the longest frame has 256 (MODBUS over Serial Line V1.02, 2.5.1). */
const kept = 512;

/** Bits of a character with start, parity and stop: what the standard's character times count. */
const bitsOfCharacter = 11;

/** s between frames: 3.5 character times, and 1.75 ms above 19200 baud (MODBUS over Serial Line V1.02, 2.5.1.1). */
export const frameSilence = (baudRate: number): number => (baudRate > 19_200 ? 0.001_75 : (3.5 * bitsOfCharacter) / baudRate);

export const withCrc = (bytes: Uint8Array): Uint8Array => {
  const crc = modbusCrc(bytes);
  return Uint8Array.of(...bytes, crc & 0xff, crc >> 8);
};

/**
 * RTU frames. An answer carries no number: it is taken only while its question is open, and only with the slave, the
 * function and the byte count of that question and a right checksum. It need not be the first of the bytes: lines
 * of two wires give a stray byte when they turn round, and some adapters send back what was asked.
 */
export class RtuFraming implements ModbusFraming {
  readonly numbered = false;
  #block: Block | null = null;
  #request: Uint8Array = new Uint8Array(0);
  #bytes = Buffer.alloc(kept);
  #length = 0;
  #spoilt = false;

  /** @param silence s */
  constructor(readonly silence: number) {}

  /** Frames are found wherever they begin. */
  readonly stopped = false;

  get spoilt(): boolean {
    return this.#spoilt;
  }

  ask(block: Block): Uint8Array {
    this.#block = block;
    this.#length = 0;
    this.#spoilt = false;
    this.#request = withCrc(Uint8Array.of(block.unitId, ...requestPdu(block)));
    return this.#request;
  }

  close(): Uint8Array {
    this.#block = null;
    this.#spoilt = false;
    const rest = Uint8Array.from(this.#bytes.subarray(0, this.#length));
    this.#length = 0;
    return rest;
  }

  push(chunk: Uint8Array, sink: FramingSink): void {
    const block = this.#block;
    if (block === null) return sink.unasked(chunk);
    for (const byte of chunk) {
      if (this.#length === kept) this.#bytes.copyWithin(0, 1, this.#length--);
      this.#bytes[this.#length++] = byte;
    }
    this.#dropEcho();
    this.#look(block, sink);
  }

  holdsAnswer(block: Block, bytes: Uint8Array): boolean {
    return findAnswer(block, bytes, bytes.length).answer !== null;
  }

  #look(block: Block, sink: FramingSink): void {
    const { answer, from, to, spoilt } = findAnswer(block, this.#bytes, this.#length);
    this.#spoilt = spoilt;
    if (answer === null) return;
    const around = Uint8Array.from([...this.#bytes.subarray(0, from), ...this.#bytes.subarray(to, this.#length)]);
    this.close();
    if (around.length > 0) sink.unasked(around);
    sink.answer(answer);
  }

  #dropEcho(): void {
    const { length } = this.#request;
    if (length === 0 || this.#length < length || !this.#request.every((byte, i) => this.#bytes[i] === byte)) return;
    this.#bytes.copyWithin(0, length, this.#length);
    this.#length -= length;
    this.#request = new Uint8Array(0);
  }
}

/** The first whole answer among the bytes; `spoilt` where they begin with one whose checksum is wrong. */
function findAnswer(block: Block, bytes: Uint8Array, end: number): { answer: Answer | null; from: number; to: number; spoilt: boolean } {
  let spoilt = false;
  for (let from = 0; from + 5 <= end; from++) {
    const length = frameLength(block, bytes, from);
    const to = from + length;
    if (length === 0 || to > end) continue;
    if (modbusCrc(bytes, from, to) !== 0) {
      spoilt ||= from === 0;
      continue;
    }
    const answer = readAnswer(block, Uint8Array.from(bytes.subarray(from + 1, to - 2)));
    if (answer !== null) return { answer, from, to, spoilt };
  }
  return { answer: null, from: 0, to: 0, spoilt };
}

/** Bytes of the answer that begins here, checksum and all; 0 where none does. */
function frameLength(block: Block, bytes: Uint8Array, from: number): number {
  if (bytes[from] !== block.unitId) return 0;
  const code = bytes[from + 1];
  if (code === (block.functionCode | 0x80)) return 5;
  return code === block.functionCode && bytes[from + 2] === byteCountOf(block) ? 5 + byteCountOf(block) : 0;
}
