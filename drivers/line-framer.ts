import { ReadlineParser } from '@serialport/parser-readline';

/** What a framer finds. */
export interface FramerSink {
  /**
   * A line without its end, one character for each byte (Latin-1).
   * `whole` is false for the first one, which may have begun before the framer listened.
   */
  line(text: string, whole: boolean): void;
  /** A line passed the limit; `head` is how it began. Told once, when it happens; nothing else comes of that line. */
  oversize(head: string): void;
}

const CR = 13;
const LF = 10;

/**
 * Cuts a byte stream into lines, whatever the chunks. Blank lines are no lines, so CR, LF and CRLF can all end one.
 *
 * This is the length guard in front of the stock line parser, which by itself knows one delimiter, holds any amount of
 * bytes and hands out what is left when the stream ends. Only whole lines within the limit go through it, each with one
 * line end, and it is never ended; every opening has a parser of its own, so that no half line survives.
 */
export class LineFramer {
  readonly #buffer: Buffer;
  readonly #parser: ReadlineParser;
  readonly #lineEnd: Buffer;
  #sink: FramerSink | null = null;
  #wholeLine = false;
  readonly #delimiter: Uint8Array | null;
  #length = 0;
  #whole: boolean;
  #over = false;

  /**
   * @param delimiter bytes that end a line, or `null` for CR, LF or CRLF
   * @param limit longest line, bytes; what comes beyond is thrown away up to the next line end
   * @param whole true when the stream is known to begin with a line
   */
  constructor(delimiter: Uint8Array | null, limit: number, whole: boolean) {
    this.#delimiter = delimiter;
    this.#buffer = Buffer.alloc(limit + (delimiter?.length ?? 0));
    this.#whole = whole;
    this.#lineEnd = delimiter === null ? Buffer.from([LF]) : Buffer.from(delimiter);
    this.#parser = new ReadlineParser({ delimiter: this.#lineEnd, encoding: 'latin1' });
    this.#parser.on('data', (text: string) => this.#sink?.line(text, this.#wholeLine));
  }

  push(chunk: Uint8Array, sink: FramerSink): void {
    this.#sink = sink;
    for (const byte of chunk) {
      if (this.#delimiter === null && (byte === CR || byte === LF)) {
        this.#end(this.#length);
        continue;
      }
      if (this.#length === this.#buffer.length) this.#discard(sink);
      this.#buffer[this.#length++] = byte;
      if (this.#delimiter !== null && this.#endsWith(this.#delimiter)) this.#end(this.#length - this.#delimiter.length);
    }
  }

  /** What came after the last line end, as text; never a line. */
  get rest(): string {
    return this.#over ? '' : this.#buffer.toString('latin1', 0, this.#length);
  }

  /** True when bytes wait for their line end. */
  get pending(): boolean {
    return this.#over || this.#length > 0;
  }

  /** Forgets what came so far; the next byte begins a line. */
  restart(): void {
    this.#length = 0;
    this.#over = false;
    this.#whole = true;
  }

  #end(length: number): void {
    const whole = this.#whole;
    const over = this.#over;
    this.#length = 0;
    this.#over = false;
    this.#whole = true;
    if (over || length === 0) return;
    this.#wholeLine = whole;
    // The parser emits at once, while the chunk that ended the line is still being taken.
    this.#parser.write(Buffer.concat([this.#buffer.subarray(0, length), this.#lineEnd]));
  }

  #discard(sink: FramerSink): void {
    if (!this.#over) sink.oversize(this.#buffer.toString('latin1', 0, 64));
    this.#over = true;
    // A delimiter of several bytes may be cut here: its beginning stays.
    const keep = (this.#delimiter?.length ?? 1) - 1;
    this.#buffer.copyWithin(0, this.#length - keep, this.#length);
    this.#length = keep;
  }

  #endsWith(delimiter: Uint8Array): boolean {
    if (this.#length < delimiter.length) return false;
    for (let i = 1; i <= delimiter.length; i++) {
      if (this.#buffer[this.#length - i] !== delimiter[delimiter.length - i]) return false;
    }
    return true;
  }
}
