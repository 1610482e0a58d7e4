import type { Conversion } from '../core/conversion.js';
import type { Samples } from './block-codec.js';

/** One run of samples from several, in their order. */
export function join(parts: readonly Samples[]): Samples {
  const only = parts[0];
  if (parts.length === 1 && only) return only;
  const length = parts.reduce((sum, part) => sum + part.time.length, 0);
  const joined = { time: new Float64Array(length), pressure: new Float64Array(length), flags: new Uint8Array(length) };
  const raw = parts.some((part) => part.raw && part.time.length > 0) ? new Float64Array(length).fill(NaN) : null;
  let at = 0;
  for (const part of parts) {
    joined.time.set(part.time, at);
    joined.pressure.set(part.pressure, at);
    joined.flags.set(part.flags, at);
    if (part.raw) raw?.set(part.raw, at);
    at += part.time.length;
  }
  const conversion = oneConversion(parts);
  return { ...joined, raw, ...(conversion && { conversion }) };
}

/** The conversion of all parts, where they have the same. Others keep their pressures as they are. */
function oneConversion(parts: readonly Samples[]): Conversion | undefined {
  const known = parts.flatMap(({ conversion }) => conversion ?? []);
  const [first] = known;
  return first !== undefined && known.every((other) => JSON.stringify(other) === JSON.stringify(first)) ? first : undefined;
}
