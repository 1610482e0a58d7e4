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
 * The stock delimiter parser is not used: it knows one delimiter, holds any amount of bytes, and hands out what is left
 * when the stream ends. A length guard in front of it would have to find every line end itself.
 */
export class LineFramer {
  readonly #buffer: Buffer;
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
  }

  push(chunk: Uint8Array, sink: FramerSink): void {
    for (const byte of chunk) {
      if (this.#delimiter === null && (byte === CR || byte === LF)) {
        this.#end(this.#length, sink);
        continue;
      }
      if (this.#length === this.#buffer.length) this.#discard(sink);
      this.#buffer[this.#length++] = byte;
      if (this.#delimiter !== null && this.#endsWith(this.#delimiter)) this.#end(this.#length - this.#delimiter.length, sink);
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

  #end(length: number, sink: FramerSink): void {
    const whole = this.#whole;
    const over = this.#over;
    this.#length = 0;
    this.#over = false;
    this.#whole = true;
    if (!over && length > 0) sink.line(this.#buffer.toString('latin1', 0, length), whole);
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
