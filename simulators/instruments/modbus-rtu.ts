import { withCrc, crc16 } from './modbus-crc.js';
import type { ModbusInstrument } from './modbus-instrument.js';
import type { Wire } from './wire.js';

/** ms of silence that end a frame whose length its function code does not tell; also after noise. */
const silence = 20;
/** Longest frame, MODBUS over Serial Line V1.02, section 2.5.1. */
const longest = 256;
const readLength = 8;

/**
 * Instruments on one serial line, answering RTU frames addressed to them. A request to another address, a broadcast and
 * a frame with a wrong checksum are met with silence.
 *
 * A read request is answered as soon as its eight bytes are there: a pseudo terminal has no character times, so waiting
 * for 3.5 of them would only make the line slow.
 */
export class ModbusRtuLine {
  private heard = Buffer.alloc(0);
  private timer: NodeJS.Timeout | undefined;
  private silent = false;

  constructor(
    private readonly wire: Wire,
    private readonly instruments: readonly ModbusInstrument[],
  ) {
    wire.onBytes((bytes) => this.hear(bytes));
  }

  /** All instruments go silent, or speak again; the link stays open. */
  keepSilent(silent: boolean): void {
    this.silent = silent;
  }

  /** Pulls the plug. */
  async unplug(): Promise<void> {
    clearTimeout(this.timer);
    await this.wire.close();
  }

  private hear(bytes: Uint8Array): void {
    clearTimeout(this.timer);
    this.heard = Buffer.concat([this.heard, bytes]);
    while (this.heard.length >= readLength && isRead(this.heard) && isWhole(this.heard.subarray(0, readLength))) {
      this.answer(this.heard.subarray(0, readLength));
      this.heard = this.heard.subarray(readLength);
    }
    if (this.heard.length > longest) this.heard = this.heard.subarray(-longest);
    if (this.heard.length > 0) this.timer = setTimeout(() => this.endOfFrame(), silence);
  }

  private endOfFrame(): void {
    const frame = this.heard;
    this.heard = Buffer.alloc(0);
    if (isWhole(frame)) this.answer(frame);
  }

  private answer(frame: Buffer): void {
    const instrument = this.instruments.find(({ unitId }) => unitId === frame[0]);
    if (instrument === undefined || this.silent) return;
    this.wire.send(withCrc(Buffer.concat([frame.subarray(0, 1), instrument.answer(frame.subarray(1, -2))])));
  }
}

const isRead = (heard: Buffer): boolean => (heard[1] ?? 0) >= 1 && (heard[1] ?? 0) <= 4;
/** The checksum over a frame and its own checksum is zero. */
const isWhole = (frame: Buffer): boolean => frame.length >= 4 && crc16(frame) === 0;
