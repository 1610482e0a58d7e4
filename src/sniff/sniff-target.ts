import type { SerialTarget, Target } from '../../drivers/wiring.js';

/** What a person may name: a serial port of this computer, or a place on the network. */
export type SniffTarget = { readonly kind: 'serial'; readonly path: string } | { readonly kind: 'tcp'; readonly host: string; readonly port: number | null };

/** How a serial line is set. */
export type SerialSettings = Pick<SerialTarget, 'baudRate' | 'dataBits' | 'parity' | 'stopBits'>;

/** What was typed, or a sentence that says what would be right. */
export function parseTarget(text: string): SniffTarget | string {
  if (text.startsWith('/') || text.startsWith('.') || /^COM\d+$/i.test(text)) return { kind: 'serial', path: text };
  if (/^(tty|cu\.|serial\/)/.test(text)) return `'${text}' looks like a serial port without its folder; write '/dev/${text}'`;
  const match = /^(?:\[([0-9a-fA-F:]+)\]|([^:/\s]+))(?::(\d{1,5}))?$/.exec(text);
  const host = match?.[1] ?? match?.[2];
  const port = match?.[3] === undefined ? null : Number(match[3]);
  if (host === undefined || /^\d+$/.test(host) || (port !== null && (port < 1 || port > 65_535))) {
    return `'${text}' should be a serial port such as /dev/ttyUSB0, or HOST:PORT such as 192.0.2.10:4001`;
  }
  return { kind: 'tcp', host, port };
}

/** `9600 8N1` */
export const shownSettings = ({ baudRate, dataBits, parity, stopBits }: SerialSettings): string => `${baudRate} ${dataBits}${parity.charAt(0).toUpperCase()}${stopBits}`;

/** Where to open; DTR stays as it is at close, so that one opening after the other does not reset the instrument each time. */
export const serialTargetOf = (path: string, settings: SerialSettings): Target => ({ kind: 'serial', port: { by: 'path', path }, ...settings, dtr: 'leave' });
