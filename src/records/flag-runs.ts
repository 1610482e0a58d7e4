import type { ByteReader, ByteWriter } from './bytes.js';

/** Writes flags as lengths of equal ones: they hardly ever change. */
export function writeRuns(out: ByteWriter, flags: Uint8Array): void {
  for (let from = 0; from < flags.length; ) {
    let to = from + 1;
    while (to < flags.length && flags[to] === flags[from]) to++;
    out.varint(to - from);
    out.byte(flags[from]!);
    from = to;
  }
}

/** @throws RangeError where the lengths do not add up to `count` */
export function readRuns(from: ByteReader, count: number): Uint8Array {
  const flags = new Uint8Array(count);
  for (let at = 0; at < count; ) {
    const length = from.varint();
    if (length < 1 || at + length > count) throw new RangeError('runs of flags do not add up');
    flags.fill(from.byte(), at, (at += length));
  }
  return flags;
}
