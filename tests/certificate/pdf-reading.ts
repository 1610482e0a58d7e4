import { execFileSync } from 'node:child_process';

/** The text of a PDF as poppler reads it: an independent program, and what a person would select. */
export const pdfText = (bytes: Uint8Array): string => execFileSync('pdftotext', ['-layout', '-enc', 'UTF-8', '-', '-'], { input: bytes, encoding: 'utf8' });

/** Title, paper and number of pages as `pdfinfo` tells them. */
export function pdfFacts(bytes: Uint8Array): Readonly<Record<string, string>> {
  const told = execFileSync('pdfinfo', ['-'], { input: bytes, encoding: 'utf8' });
  return Object.fromEntries([...told.matchAll(/^([^:\n]+):[ ]+(.*)$/gm)].map(([, name = '', value = '']) => [name, value]));
}
