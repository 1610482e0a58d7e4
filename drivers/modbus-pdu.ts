import type { Fault } from './driver.js';
import type { Block, Placed } from './modbus-blocks.js';
import { isBitTable, sizeOf } from './modbus-values.js';

/** Codes of MODBUS Application Protocol V1.1b3, section 7, in words. */
const exceptionWords: Readonly<Record<number, string>> = {
  1: 'illegal function', 2: 'illegal data address', 3: 'illegal data value', 4: 'server device failure', 5: 'acknowledge, later',
  6: 'server device busy', 7: 'negative acknowledge', 8: 'memory parity error', 10: 'gateway path unavailable', 11: 'gateway target device failed to respond',
};

/** What a device answers in place of a value. */
export interface Refusal {
  readonly code: number;
  readonly words: string;
  readonly fault: Fault;
}

/** An exception in words. 5 and 6 mean later, 10 and 11 that the slave behind a gateway is silent, 4 and 8 that the device is ill. */
export function refusalOf(code: number): Refusal {
  const words = exceptionWords[code] ?? `exception ${code}`;
  if (code === 5 || code === 6) return { code, words, fault: 'busy' };
  if (code === 10 || code === 11) return { code, words, fault: 'no-answer' };
  if (code === 4 || code === 8) return { code, words, fault: 'error-word' };
  return { code, words, fault: 'refused' };
}

/** Function code, first address, quantity: MODBUS Application Protocol V1.1b3, 6.1 to 6.4. */
export function requestPdu({ functionCode, start, count }: Block): Uint8Array {
  return Uint8Array.of(functionCode, start >> 8, start & 0xff, count >> 8, count & 0xff);
}

/** Bytes that the answer to a question carries. */
export const byteCountOf = ({ table, count }: Block): number => (isBitTable(table) ? Math.ceil(count / 8) : count * 2);

/** What an answer says, or `null` where it is no answer to this question. */
export type Answer = { readonly kind: 'content'; readonly bytes: Uint8Array } | { readonly kind: 'refusal'; readonly refusal: Refusal };

export function readAnswer(block: Block, pdu: Uint8Array): Answer | null {
  const [code, second] = pdu;
  if (code === (block.functionCode | 0x80) && pdu.length === 2 && second !== undefined) return { kind: 'refusal', refusal: refusalOf(second) };
  if (code !== block.functionCode || second !== byteCountOf(block) || pdu.length !== 2 + second) return null;
  return { kind: 'content', bytes: pdu.subarray(2) };
}

/** The bytes of one value out of the content of its block; of a coil one byte, 0 or 1 (the first coil is the lowest bit). */
export function bytesOf(block: Block, { value, at }: Placed, content: Uint8Array): Uint8Array {
  if (isBitTable(block.table)) return Uint8Array.of(((content[at >> 3] ?? 0) >> (at & 7)) & 1);
  return content.subarray(at * 2, (at + sizeOf(value)) * 2);
}
