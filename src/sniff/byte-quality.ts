/** What a stretch of bytes looks like, before anything is read from it. */
export interface ByteQuality {
  readonly bytes: number;
  /** Share that text of an instrument is made of: printable ASCII, tab, CR, LF, STX, ETX; 0 to 1. */
  readonly text: number;
  /** Line ends: CR, LF or both together. */
  readonly lineEnds: number;
  /** Parity that the top bit of every byte keeps, where seven bits with parity explain what came. */
  readonly sevenBits: 'even' | 'odd' | null;
}

/** From here on bytes are taken for text. */
const textFrom = 0.97;

const isText = (byte: number): boolean => (byte >= 0x20 && byte <= 0x7e) || byte === 9 || byte === 10 || byte === 13 || byte === 2 || byte === 3;

export function qualityOf(bytes: Uint8Array): ByteQuality {
  let text = 0;
  let lineEnds = 0;
  let even = 0;
  let odd = 0;
  let high = 0;
  let seven = 0;
  bytes.forEach((byte, i) => {
    if (isText(byte)) text++;
    if (byte === 13 || (byte === 10 && bytes[i - 1] !== 13)) lineEnds++;
    if (byte >= 0x80) high++;
    if (isText(byte & 0x7f)) seven++;
    if (ones(byte) % 2 === 0) even++;
    else odd++;
  });
  const { length } = bytes;
  const parity = even >= length * textFrom ? 'even' : odd >= length * textFrom ? 'odd' : null;
  const explains = length >= 8 && high > 0 && seven >= length * textFrom;
  return { bytes: length, text: length === 0 ? 0 : text / length, lineEnds, sevenBits: explains ? parity : null };
}

/** True where the bytes are lines of text. */
export const isReadable = ({ bytes, text, lineEnds }: ByteQuality): boolean => bytes >= 4 && text >= textFrom && lineEnds > 0;

/** True where enough has come to know that the settings are wrong. */
export const isGarbage = ({ bytes, text, sevenBits }: ByteQuality): boolean => bytes >= 200 && text < 0.8 && sevenBits === null;

function ones(byte: number): number {
  let count = 0;
  for (let rest = byte; rest !== 0; rest &= rest - 1) count++;
  return count;
}
