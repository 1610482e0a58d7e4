/**
 * Discrete Fourier transform in place, radix 2: X[k] = sum of x[n] exp(-2 pi i k n / N).
 * Source: Cooley and Tukey, Mathematics of Computation 19 (1965) 297.
 * @param re real parts, @param im imaginary parts; equal lengths, a power of 2
 * @throws RangeError for any other length
 */
export function fft(re: Float64Array, im: Float64Array): void {
  const n = re.length;
  if (n === 0 || (n & (n - 1)) !== 0 || im.length !== n) throw new RangeError(`${n} and ${im.length} points: equal powers of 2 are needed`);
  for (let i = 1, j = 0; i < n; i++) {
    let bit = n >> 1;
    for (; (j & bit) !== 0; bit >>= 1) j ^= bit;
    j |= bit;
    if (i < j) {
      [re[i], re[j]] = [re[j] as number, re[i] as number];
      [im[i], im[j]] = [im[j] as number, im[i] as number];
    }
  }
  for (let size = 2; size <= n; size *= 2) {
    const half = size / 2;
    for (let k = 0; k < half; k++) {
      const [c, s] = [Math.cos((2 * Math.PI * k) / size), -Math.sin((2 * Math.PI * k) / size)];
      for (let i = k; i < n; i += size) {
        const j = i + half;
        const [r, m] = [(re[j] as number) * c - (im[j] as number) * s, (re[j] as number) * s + (im[j] as number) * c];
        re[j] = (re[i] as number) - r;
        im[j] = (im[i] as number) - m;
        re[i] = (re[i] as number) + r;
        im[i] = (im[i] as number) + m;
      }
    }
  }
}

export type Window = 'hann' | 'none';

/** One-sided power spectrum of an even series. */
export interface Spectrum {
  /** Hz, from 0 to half the sample rate. */ readonly frequency: Float64Array;
  /** bar^2/Hz; its sum times `resolution` is the mean square of the series. */ readonly density: Float64Array;
  /** Hz between two frequencies. */ readonly resolution: number;
  /** How many overlapping stretches were averaged. */ readonly stretches: number;
  /** The strongest line above the noise around it: frequency in Hz, amplitude in bar; `null` where none stands out. */
  readonly line: { readonly frequency: number; readonly amplitude: number } | null;
}

const longest = 4096;
const shortest = 16;

/** Values in a stretch: seven stretches or more, as long as they do not get too short to tell frequencies apart. */
const usualStretch = (length: number): number => Math.min(longest, Math.max(shortest, 2 ** Math.floor(Math.log2(length / (length < 256 ? 1 : 4)))));

/** A line stands out where its power is so many times the median. Chance does it in white noise less than once in a thousand spectra of 2048 lines. */
const outstanding = 25;

/**
 * Mean of the periodograms of stretches that overlap by half. Source: Welch, IEEE Transactions on Audio and
 * Electroacoustics 15 (1967) 70.
 * @param interval s between values
 * @param stretch values in a stretch, a power of 2
 * @returns `null` where there are fewer than 16 values
 */
export function spectrumOf(values: Float64Array, interval: number, window: Window = 'hann', stretch = usualStretch(values.length)): Spectrum | null {
  if (values.length < shortest || !(interval > 0)) return null;
  const n = stretch;
  const weight = Float64Array.from({ length: n }, (_, i) => (window === 'hann' ? 0.5 - 0.5 * Math.cos((2 * Math.PI * i) / n) : 1));
  const [sum, square] = weight.reduce(([a, b], w) => [a + w, b + w * w], [0, 0] as [number, number]);
  const step = window === 'hann' ? n / 2 : n;
  const density = new Float64Array(n / 2 + 1);
  const [re, im] = [new Float64Array(n), new Float64Array(n)];
  let stretches = 0;
  for (let start = 0; start + n <= values.length; start += step) {
    for (let i = 0; i < n; i++) re[i] = (values[start + i] as number) * (weight[i] as number);
    im.fill(0);
    fft(re, im);
    for (let k = 0; k <= n / 2; k++) density[k] = (density[k] as number) + (re[k] as number) ** 2 + (im[k] as number) ** 2;
    stretches++;
  }
  const scale = interval / (square * stretches);
  // Every frequency but the first and the last stands for its negative one, too.
  for (let k = 0; k <= n / 2; k++) density[k] = (density[k] as number) * scale * (k === 0 || k === n / 2 ? 1 : 2);
  const resolution = 1 / (n * interval);
  const frequency = density.map((_, k) => k * resolution);
  return { frequency, density, resolution, stretches, line: strongest(density, resolution, (interval * sum * sum) / square) };
}

/** @param gain what a sine of amplitude 1 adds to the density where it stands, times 2 */
function strongest(density: Float64Array, resolution: number, gain: number): Spectrum['line'] {
  const sorted = density.slice(2).sort();
  const middle = sorted[sorted.length >> 1] ?? 0;
  let best = 2;
  // What is slower than two periods in the stretch is drift, not a line.
  for (let k = 2; k < density.length - 1; k++) if ((density[k] as number) > (density[best] as number)) best = k;
  const power = density[best] ?? 0;
  if (!(power > outstanding * middle) || power === 0) return null;
  return { frequency: best * resolution, amplitude: Math.sqrt((2 * power) / gain) };
}
