/** What the code on a certificate says; `verify` takes it whole, or the seal alone. */
export interface SealCode {
  readonly run: number;
  /** 64 hex digits. */
  readonly seal: string;
}

/** In capital letters and digits, which a QR code packs closest (ISO/IEC 18004, alphanumeric mode). */
export const sealCode = ({ run, seal }: SealCode): string => `DWELLKEEPER:RUN:${run}:SEAL:${seal.toUpperCase()}`;

/** The seal in a scanned code or a typed seal, as 64 small hex digits; `null` for anything else. */
export function sealIn(text: string): string | null {
  const found = /^(?:DWELLKEEPER:RUN:\d+:SEAL:)?([0-9A-F]{64})$/i.exec(text.replaceAll(/\s/g, ''));
  return found?.[1]?.toLowerCase() ?? null;
}
