import type { Answer } from './modbus-pdu.js';
import type { Block } from './modbus-blocks.js';

/** What a framing finds in the bytes of one connection. */
export interface FramingSink {
  /** The answer to the open question. */
  answer(answer: Answer): void;
  /** An answer to the open question that is none: it names it, and says something else. */
  wrong(bytes: Uint8Array): void;
  /** A whole answer, or bytes, that belong to no open question. */
  unasked(bytes: Uint8Array): void;
  /** The stream is no longer Modbus: nothing that follows can be read. */
  broken(sentence: string): void;
}

/** How questions and answers lie in the bytes: RTU with a checksum, TCP with a number. One for each opening. */
export interface ModbusFraming {
  /** True where answers carry the number of their question, so that a late one is known and nothing needs to be waited out. */
  readonly numbered: boolean;
  /** s of silence that the line needs before a question. */
  readonly silence: number;
  /** The bytes of a question, which is open from now on. */
  ask(block: Block): Uint8Array;
  push(chunk: Uint8Array, sink: FramingSink): void;
  /** The question is no longer open. @returns what came of an answer and was not used */
  close(): Uint8Array;
  /** True where a whole answer to this question is among the bytes. */
  holdsAnswer(block: Block, bytes: Uint8Array): boolean;
  /** True where half a frame stands in a stream that cannot be entered in the middle. */
  readonly stopped: boolean;
  /** True when a whole answer to the open question is here and its checksum is wrong. */
  readonly spoilt: boolean;
}
