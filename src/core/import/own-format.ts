import { Flag } from '../trace.js';
import { GrowingTrace } from './growing-trace.js';

const header = 'time_s,pressure_bar';
/** Powers of ten that a double holds exactly, so that one division rounds once (Clinger 1990). */
const exactPowers = Array.from({ length: 23 }, (_, i) => 10 ** i);
const lf = 10, cr = 13, comma = 44, minus = 45, plus = 43, point = 46, zero = 48, nine = 57;

/** A trace in the project's own format, and the most digits after the point of a pressure. */
export interface OwnRead {
  readonly samples: GrowingTrace;
  readonly decimals: number;
}

/** Whether the bytes begin with the header `time_s,pressure_bar`. */
export function isOwnFormat(bytes: Uint8Array): boolean {
  const from = markLength(bytes);
  for (let i = 0; i < header.length; i++) if (bytes[from + i] !== header.charCodeAt(i)) return false;
  const after = bytes[from + header.length];
  return after === undefined || after === lf || after === cr;
}

const markLength = (bytes: Uint8Array): number => (bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf ? 3 : 0);

/**
 * Reads rows of plain `12.34,550.25`, straight from the bytes. Returns `null` at the first thing that is anything else
 * (an odd row, a word, a file cut short): the general reader then says what it is.
 */
export function readOwnFormat(bytes: Uint8Array): OwnRead | null {
  const samples = new GrowingTrace(Math.ceil(bytes.length / 12) + 16);
  const cursor = new NumberCursor(bytes, markLength(bytes) + header.length);
  let decimals = 0;
  let fewest = Infinity;
  let lastDecimals = 0;
  cursor.skipLineEnds();
  while (cursor.at < bytes.length) {
    const time = cursor.number();
    if (Number.isNaN(time) || bytes[cursor.at] !== comma) return null;
    cursor.at++;
    if (isLineEnd(bytes[cursor.at])) samples.add(time, NaN, Flag.unreadable);
    else {
      const pressure = cursor.number();
      if (Number.isNaN(pressure)) return null;
      samples.add(time, pressure, Flag.good);
      lastDecimals = cursor.decimals;
      if (cursor.at < bytes.length) fewest = Math.min(fewest, lastDecimals);
      decimals = Math.max(decimals, lastDecimals);
    }
    if (cursor.at < bytes.length && !isLineEnd(bytes[cursor.at])) return null;
    if (cursor.at === bytes.length && lastDecimals < fewest) return null;
    cursor.skipLineEnds();
  }
  return samples.length === 0 ? null : { samples, decimals };
}

const isLineEnd = (byte: number | undefined): boolean => byte === lf || byte === cr;

/** Reads one decimal number after the other from bytes. */
class NumberCursor {
  /** Digits after the point of the last number. */
  decimals = 0;

  constructor(
    private readonly bytes: Uint8Array,
    public at: number,
  ) {}

  skipLineEnds(): void {
    while (isLineEnd(this.bytes[this.at])) this.at++;
  }

  /** The number at the cursor, which then stands behind it; `NaN` where there is none. */
  number(): number {
    const { bytes } = this;
    const from = this.at;
    let i = from;
    const sign = bytes[i];
    if (sign === minus || sign === plus) i++;
    let mantissa = 0;
    let digits = 0;
    let decimals = -1;
    for (; i < bytes.length; i++) {
      const byte = bytes[i] ?? 0;
      if (byte >= zero && byte <= nine) {
        mantissa = mantissa * 10 + (byte - zero);
        digits++;
        if (decimals >= 0) decimals++;
      } else if (byte === point && decimals < 0) decimals = 0;
      else break;
    }
    this.at = i;
    this.decimals = Math.max(0, decimals);
    if (digits === 0) return NaN;
    // 15 digits always fit a double; longer numbers, and those with an exponent, are left to the engine.
    if (digits > 15) return this.byText(from, i);
    const value = mantissa / (exactPowers[this.decimals] ?? NaN);
    return sign === minus ? -value : value;
  }

  private byText(from: number, to: number): number {
    return Number(String.fromCharCode(...this.bytes.subarray(from, to)));
  }
}
