/** Appends numbers to a growing byte array; everything little-endian. */
export class ByteWriter {
  private bytes = new Uint8Array(256);
  private view = new DataView(this.bytes.buffer);
  private length = 0;

  private room(count: number): void {
    if (this.length + count <= this.bytes.length) return;
    const larger = new Uint8Array(Math.max(this.bytes.length * 2, this.length + count));
    larger.set(this.bytes.subarray(0, this.length));
    this.bytes = larger;
    this.view = new DataView(larger.buffer);
  }

  byte(value: number): void {
    this.room(1);
    this.bytes[this.length++] = value;
  }

  float64(value: number): void {
    this.room(8);
    this.view.setFloat64(this.length, value, true);
    this.length += 8;
  }

  uint32(value: number): void {
    this.room(4);
    this.view.setUint32(this.length, value, true);
    this.length += 4;
  }

  /** A whole number from 0 to 2^53 - 1, seven bits a byte. Division, not shifts: shifts stop at 32 bits. */
  varint(value: number): void {
    let rest = value;
    while (rest >= 128) {
      this.byte((rest % 128) | 128);
      rest = Math.floor(rest / 128);
    }
    this.byte(rest);
  }

  /** A whole number between -2^52 and 2^52. */
  signed(value: number): void {
    this.varint(value >= 0 ? value * 2 : -value * 2 - 1);
  }

  raw(part: Uint8Array): void {
    this.room(part.length);
    this.bytes.set(part, this.length);
    this.length += part.length;
  }

  /** What was written, without a copy: valid until the next write. */
  done(): Uint8Array {
    return this.bytes.subarray(0, this.length);
  }
}

/** Reads what `ByteWriter` wrote. Throws `RangeError` beyond the end. */
export class ByteReader {
  private readonly view: DataView;
  private at = 0;

  constructor(private readonly bytes: Uint8Array) {
    this.view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  }

  byte(): number {
    return this.view.getUint8(this.at++);
  }

  float64(): number {
    const value = this.view.getFloat64(this.at, true);
    this.at += 8;
    return value;
  }

  varint(): number {
    let value = 0;
    let weight = 1;
    for (;;) {
      const byte = this.byte();
      value += (byte & 127) * weight;
      if (byte < 128) return value;
      weight *= 128;
    }
  }

  signed(): number {
    const value = this.varint();
    return value % 2 === 0 ? value / 2 : -(value + 1) / 2;
  }

  raw(length: number): Uint8Array {
    if (this.at + length > this.bytes.length) throw new RangeError('the block ends too early');
    this.at += length;
    return this.bytes.subarray(this.at - length, this.at);
  }
}
