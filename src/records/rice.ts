/**
 * Rice codes (R. F. Rice, JPL 79-22, 1979) for whole numbers that change little from one to the next.
 *
 * The numbers are cut into groups; each group has its own parameter, because a rise and a hold differ by far, and its
 * own prediction: the number before (right while the pressure moves) or the mean of the last four (right for noise
 * about a level or a grid, where it saves a third of a bit a sample).
 */
const groupSize = 128;
/** So many ones in a row announce a number that is written in full. */
const escape = 20;
const allZero = 31;

class BitWriter {
  bytes: Uint8Array;
  private at = 0;
  private held = 0;
  private heldBits = 0;

  constructor(capacity: number) {
    this.bytes = new Uint8Array(capacity);
  }

  /** `bits` from 0 to 24. */
  write(value: number, bits: number): void {
    this.held = (this.held << bits) | value;
    this.heldBits += bits;
    if (this.at + 4 > this.bytes.length) {
      const larger = new Uint8Array(this.bytes.length * 2 + 16);
      larger.set(this.bytes);
      this.bytes = larger;
    }
    while (this.heldBits >= 8) {
      this.heldBits -= 8;
      this.bytes[this.at++] = this.held >>> this.heldBits;
    }
  }

  done(): Uint8Array {
    if (this.heldBits > 0) this.write(0, 8 - this.heldBits);
    return this.bytes.subarray(0, this.at);
  }
}

const zigzag = (d: number): number => (d >= 0 ? d * 2 : -d * 2 - 1);

/** Bits that a group takes with parameter `k`. */
function cost(codes: Float64Array, count: number, k: number): number {
  const unit = 2 ** k;
  let bits = count * (k + 1);
  for (let i = 0; i < count; i++) {
    const q = codes[i]! / unit;
    bits += q < escape ? q | 0 : escape + 54;
  }
  return bits;
}

/**
 * Writes whole numbers (each within 2^46 of zero).
 * @param drift the usual difference of neighbours, taken off first: 0 for a pressure, the interval for times.
 */
export function riceEncode(numbers: Float64Array, drift: number): Uint8Array {
  const out = new BitWriter(numbers.length + 16);
  const plain = new Float64Array(groupSize);
  const smooth = new Float64Array(groupSize);
  let [a, b, c, d] = [-4 * drift, -3 * drift, -2 * drift, -drift];
  for (let from = 0; from < numbers.length; from += groupSize) {
    const count = Math.min(groupSize, numbers.length - from);
    let plainSum = 0;
    let smoothSum = 0;
    for (let i = 0; i < count; i++) {
      const n = numbers[from + i]!;
      plainSum += plain[i] = zigzag(n - d - drift);
      smoothSum += smooth[i] = zigzag(n - Math.floor((a + b + c + d) / 4 + 2.5 * drift + 0.5));
      a = b;
      b = c;
      c = d;
      d = n;
    }
    const average = smoothSum < plainSum;
    writeGroup(out, average ? smooth : plain, count, average ? smoothSum : plainSum, average);
  }
  return out.done();
}

function writeGroup(out: BitWriter, codes: Float64Array, count: number, sum: number, average: boolean): void {
  if (sum === 0) {
    out.write((allZero << 1) | Number(average), 6);
    return;
  }
  const guess = Math.min(24, Math.max(0, Math.floor(Math.log2(sum / count + 1))));
  const lower = Math.max(0, guess - 1);
  const k = cost(codes, count, lower) < cost(codes, count, guess) ? lower : guess;
  out.write((k << 1) | Number(average), 6);
  const most = escape * 2 ** k;
  for (let i = 0; i < count; i++) {
    const z = codes[i]!;
    if (z < most) {
      const q = z >>> k;
      out.write((2 << q) - 2, q + 1);
      out.write(z & ((1 << k) - 1), k);
    } else {
      out.write((1 << escape) - 1, escape);
      out.write(Math.floor(z / 2 ** 36), 18);
      out.write(Math.floor(z / 2 ** 18) % 2 ** 18, 18);
      out.write(z % 2 ** 18, 18);
    }
  }
}

/** Reads `count` numbers that `riceEncode` wrote with the same `drift`. */
export function riceDecode(coded: Uint8Array, count: number, drift: number): Float64Array {
  const bytes = new Uint8Array(coded.length + 16); // so that the last words can be read whole
  bytes.set(coded);
  const end = coded.length * 8;
  const numbers = new Float64Array(count);
  let at = 0;
  /** 32 bits from a bit on. */
  const word = (bit: number): number => {
    const p = bit >>> 3;
    const s = bit & 7;
    const high = (bytes[p]! << 24) | (bytes[p + 1]! << 16) | (bytes[p + 2]! << 8) | bytes[p + 3]!;
    return (high << s) | (bytes[p + 4]! >>> (8 - s));
  };
  let [a, b, c, d] = [-4 * drift, -3 * drift, -2 * drift, -drift];
  for (let from = 0; from < count; from += groupSize) {
    const stop = Math.min(from + groupSize, count);
    if (at >= end) throw new RangeError('the block ends too early');
    const head = word(at) >>> 26;
    at += 6;
    const k = head >>> 1;
    const average = (head & 1) === 1;
    if (k === allZero && !average) {
      for (let i = from; i < stop; i++) numbers[i] = d += drift;
      // Only the last group is shorter than four, and nothing follows it.
      [a, b, c] = [d - 3 * drift, d - 2 * drift, d - drift];
      continue;
    }
    for (let i = from; i < stop; i++) {
      let residual: number;
      if (at >= end && k !== allZero) throw new RangeError('the block ends too early');
      const w = word(at);
      const q = Math.clz32(~w);
      if (k === allZero) {
        residual = 0;
      } else if (q < escape) {
        // Shifts and masks only: the division of a double costs more than all the rest.
        const used = q + 1;
        const low = k === 0 ? 0 : used + k <= 32 ? (w << used) >>> (32 - k) : word(at + used) >>> (32 - k);
        const z = (q << k) | low;
        at += used + k;
        residual = (z >>> 1) ^ -(z & 1);
      } else {
        at += escape;
        const z = (word(at) >>> 14) * 2 ** 36 + (word(at + 18) >>> 14) * 2 ** 18 + (word(at + 36) >>> 14);
        at += 54;
        residual = z % 2 === 0 ? z / 2 : -(z + 1) / 2;
      }
      const n = residual + (average ? Math.floor((a + b + c + d) / 4 + 2.5 * drift + 0.5) : d + drift);
      numbers[i] = n;
      a = b;
      b = c;
      c = d;
      d = n;
    }
  }
  return numbers;
}
