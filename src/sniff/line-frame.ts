import { qualityOf } from './byte-quality.js';

/** Ends of a line that instruments use in place of CR and LF (common practice). */
const ends = ['\u0003', '\0', ';', '\t', '|', '&'];

/** How lines begin and end, where that is not the usual CR, LF or CRLF; keys of a line driver's options. */
export function frameOf(bytes: Uint8Array): Readonly<Record<string, unknown>> {
  const text = Buffer.from(bytes).toString('latin1');
  const { lineEnds } = qualityOf(bytes);
  const delimiter = lineEnds > 0 ? undefined : ends.find((end) => text.split(end).length > 3);
  const lines = text.split(delimiter ?? /[\r\n]+/).slice(1, -1).filter((line) => line !== '');
  const start = lines.length > 0 && lines.every((line) => line.startsWith('\u0002')) ? '\u0002' : undefined;
  return { ...(delimiter !== undefined && { delimiter }), ...(start !== undefined && { lineStart: start }) };
}
