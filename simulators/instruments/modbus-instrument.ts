import type { PressureUnit } from '../../src/core/units.js';
import type { Contacts, Reading } from '../play.js';
import { channelStride, writeChannel } from './modbus-map.js';
import type { WordOrder } from './word-order.js';

export interface ModbusOptions {
  /** 1 to 247. */
  readonly unitId?: number;
  readonly unit?: PressureUnit;
  readonly wordOrder?: WordOrder;
  /** How many transducers it has; each further one reads 0.1 bar more, as its zero is not quite the same. */
  readonly channels?: number;
}

/** Exception codes of the MODBUS Application Protocol V1.1b3, section 7. */
export const exception = { illegalFunction: 1, illegalAddress: 2, illegalValue: 3, deviceFailure: 4, busy: 6, gatewayTarget: 11 } as const;

const contactCount = 3;
/** Section 6: most bits and most registers of one answer. */
const mostBits = 2000;
const mostRegisters = 125;
/** bar between the zeros of two transducers on one manifold. */
const zeroShift = 0.1;

/** A transmitter with a register map, as far as it has to do with neither TCP nor serial lines: a request in, an answer out. */
export class ModbusInstrument {
  readonly unitId: number;
  /** Requests that it answered, exceptions included. */
  answered = 0;
  private readonly registers: Buffer;
  private contacts: Contacts = { lidClosed: true, pumpOn: false, ventOpen: true };
  private count = 0;
  private refusal: number | null = null;

  constructor(private readonly options: ModbusOptions = {}) {
    this.unitId = options.unitId ?? 1;
    this.registers = Buffer.alloc(channelStride * (options.channels ?? 1) * 2);
  }

  /** Takes the newest reading; every request is answered from it. */
  show(reading: Reading): void {
    const { unit = 'bar', wordOrder = 'ABCD', channels = 1 } = this.options;
    this.count++;
    if (reading.contacts !== undefined) this.contacts = reading.contacts;
    for (let channel = 0; channel < channels; channel++) {
      writeChannel(this.registers, channel, { ...reading, contacts: this.contacts, pressure: reading.pressure + channel * zeroShift }, this.count, unit, wordOrder);
    }
  }

  /** Answers every request with this exception; `null` ends it. */
  refuse(code: number | null): void {
    this.refusal = code;
  }

  /** The answer to a request: function code and what follows it, without address and checksum. */
  answer(request: Buffer): Buffer {
    this.answered++;
    const code = request[0] ?? 0;
    if (this.refusal !== null) return exceptionAnswer(code, this.refusal);
    if (code < 1 || code > 4) return exceptionAnswer(code, exception.illegalFunction);
    if (request.length !== 5) return exceptionAnswer(code, exception.illegalValue);
    const address = request.readUInt16BE(1);
    const quantity = request.readUInt16BE(3);
    const bits = code <= 2;
    if (quantity < 1 || quantity > (bits ? mostBits : mostRegisters)) return exceptionAnswer(code, exception.illegalValue);
    if (address + quantity > (bits ? contactCount : this.registers.length / 2)) return exceptionAnswer(code, exception.illegalAddress);
    const body = bits ? this.bits(address, quantity) : this.registers.subarray(address * 2, (address + quantity) * 2);
    return Buffer.concat([Buffer.from([code, body.length]), body]);
  }

  /** Contacts eight to a byte, the first in the lowest bit. */
  private bits(address: number, quantity: number): Buffer {
    const { lidClosed, pumpOn, ventOpen } = this.contacts;
    const all = [lidClosed, pumpOn, ventOpen].slice(address, address + quantity);
    return Buffer.from([all.reduce((byte, on, place) => byte | (on ? 1 << place : 0), 0)]);
  }
}

/** Function code with its top bit set, and why. */
export const exceptionAnswer = (code: number, why: number): Buffer => Buffer.from([code | 0x80, why]);
