import type { Block } from './modbus-blocks.js';
import type { FramingSink, ModbusFraming } from './modbus-framing.js';
import { readAnswer, requestPdu } from './modbus-pdu.js';

/** Bytes before the PDU: number, protocol (0), length of what follows, slave (MODBUS Messaging on TCP/IP V1.0b, 3.1.3). */
const header = 7;
/** The length field counts the slave's byte and the PDU, which has 2 to 253 bytes. */
const shortest = 3;
const longest = 254;

/** Frames of Modbus TCP. Cut by their length field, whatever the packets; an answer is taken only by the number of its question. */
export class TcpFraming implements ModbusFraming {
  readonly numbered = true;
  readonly silence = 0;
  readonly spoilt = false;
  #number = 0;
  #block: Block | null = null;
  #bytes: Buffer = Buffer.alloc(0);

  /** @param first number of the first question */
  constructor(first = 1) {
    this.#number = first - 1;
  }

  get stopped(): boolean {
    return this.#bytes.length > 0;
  }

  ask(block: Block): Uint8Array {
    this.#block = block;
    this.#number = (this.#number + 1) & 0xffff;
    const pdu = requestPdu(block);
    return Uint8Array.of(this.#number >> 8, this.#number & 0xff, 0, 0, 0, pdu.length + 1, block.unitId, ...pdu);
  }

  close(): Uint8Array {
    this.#block = null;
    // Half a frame stays: its other half comes later, and what follows it must not be read out of step.
    return new Uint8Array(0);
  }

  /** Answers carry numbers: none is ever owed. */
  holdsAnswer(): boolean {
    return false;
  }

  push(chunk: Uint8Array, sink: FramingSink): void {
    this.#bytes = this.#bytes.length === 0 ? Buffer.from(chunk) : Buffer.concat([this.#bytes, chunk]);
    while (this.#bytes.length >= header) {
      const protocol = this.#bytes.readUInt16BE(2);
      const length = this.#bytes.readUInt16BE(4);
      if (protocol !== 0 || length < shortest || length > longest) {
        const seen = this.#bytes.subarray(0, header).toString('hex').toUpperCase();
        this.#bytes = Buffer.alloc(0);
        return sink.broken(`sends what is not Modbus TCP (${seen})`);
      }
      const end = 6 + length;
      if (this.#bytes.length < end) return;
      const frame = this.#bytes.subarray(0, end);
      this.#bytes = this.#bytes.subarray(end);
      this.#frame(frame, sink);
    }
  }

  #frame(frame: Buffer, sink: FramingSink): void {
    const block = this.#block;
    if (block === null || frame.readUInt16BE(0) !== this.#number) return sink.unasked(frame);
    this.#block = null;
    const answer = frame[6] === block.unitId ? readAnswer(block, Uint8Array.from(frame.subarray(header))) : null;
    if (answer === null) sink.wrong(frame);
    else sink.answer(answer);
  }
}
