import { Flag } from '../../src/core/trace.js';
import { lineOf, standardFormat, type LineFormat } from '../line-format.js';
import type { Reading } from '../play.js';
import type { Wire } from './wire.js';

export interface AsciiOptions {
  readonly format?: Partial<LineFormat>;
  /** Answers only to this text (a line end after it is ignored); absent: sends every reading by itself. */
  readonly query?: string;
  /** What it sends while its input is at fault. */
  readonly faultWord?: string;
}

/** Longest question that is kept while it is incomplete. */
const longestQuery = 256;

/** An instrument that writes its readings as lines, free running or when asked, with faults to order. */
export class AsciiInstrument {
  private readonly format: LineFormat;
  private latest: Reading | null = null;
  private asked = '';
  private silent = false;
  private word: { text: string; left: number } | null = null;

  constructor(
    private readonly wire: Wire,
    private readonly options: AsciiOptions = {},
  ) {
    this.format = { ...standardFormat, ...options.format };
    const { query } = options;
    if (query !== undefined) wire.onBytes((bytes) => this.hear(bytes, query));
  }

  /** Takes the newest reading: sends it, or keeps it for the next question. */
  show(reading: Reading): void {
    this.latest = reading;
    if (this.options.query === undefined) this.sendReading(reading);
  }

  /** Sends `text` instead of the next `count` readings: `+OL`, `----`, a number of another range. */
  sayInstead(text: string, count = 1): void {
    this.word = { text, left: count };
  }

  /** Sends bytes as they are, between two lines or in the middle of nothing: line noise, NULs, half a line. */
  inject(bytes: Uint8Array): void {
    this.wire.send(bytes);
  }

  /** Goes silent, or speaks again; the link stays open. */
  keepSilent(silent: boolean): void {
    this.silent = silent;
  }

  /** Pulls the plug. */
  unplug(): Promise<void> {
    return this.wire.close();
  }

  private hear(bytes: Uint8Array, query: string): void {
    this.asked += Buffer.from(bytes).toString('latin1');
    for (let at = this.asked.indexOf(query); at >= 0; at = this.asked.indexOf(query)) {
      this.asked = this.asked.slice(at + query.length);
      if (this.latest !== null) this.sendReading(this.latest);
    }
    if (this.asked.length > longestQuery) this.asked = this.asked.slice(-query.length);
  }

  private sendReading(reading: Reading): void {
    if (this.silent) return;
    this.wire.send(Buffer.from(this.textOf(reading), 'latin1'));
  }

  private textOf(reading: Reading): string {
    if (this.word !== null) {
      const { text } = this.word;
      if (--this.word.left <= 0) this.word = null;
      return text + this.format.terminator;
    }
    if ((reading.flags & Flag.fault) !== 0) return (this.options.faultWord ?? 'ERR') + this.format.terminator;
    return lineOf(reading.pressure, this.format);
  }
}
