import { createPtyPair } from '../../simulators/instruments/pty-pair.js';
import { openSerialWire, type SerialSettings } from '../../simulators/instruments/serial-line.js';
import type { Wire } from '../../simulators/instruments/wire.js';
import { inputError } from '../core/problems.js';

export interface OpenWire {
  readonly wire: Wire;
  /** What a bench connects to. */
  readonly reachable: string;
  readonly close: () => Promise<void>;
}

/**
 * Listens at `HOST:PORT`, or a port of this computer.
 * @throws InputError that says why it cannot
 */
export async function listenAt<T>(at: string | undefined, listen: (port: number, host: string) => Promise<T>): Promise<T> {
  const match = /^(?:(.+):)?(\d{1,5})$/.exec(at ?? '');
  const port = Number(match?.[2]);
  if (match === null || port > 65_535) {
    throw inputError('simulate', '--at', `${at === undefined ? 'missing; it' : `'${at}'`} should be HOST:PORT to listen on, for example 127.0.0.1:4001`);
  }
  try {
    return await listen(port, match[1] ?? '127.0.0.1');
  } catch (error) {
    throw inputError('simulate', '--at', `cannot listen on '${at}': ${reason(error)}; choose another address or port`, error);
  }
}

/**
 * Opens a serial device, or a pair of its own for `new`.
 * @throws InputError that says why it cannot
 */
export async function openSerialAt(at: string | undefined, settings: SerialSettings): Promise<OpenWire> {
  if (at === undefined) throw inputError('simulate', '--at', "missing; it must be a serial device such as /dev/ttyUSB0, or 'new' for a pair made with socat");
  if (at === 'new') {
    const pair = await createPtyPair();
    const wire = await openSerialWire(pair.near, settings);
    return { wire, reachable: pair.far, close: async () => { await wire.close(); await pair.close(); } };
  }
  try {
    const wire = await openSerialWire(at, settings);
    return { wire, reachable: `the other end of ${at}`, close: () => wire.close() };
  } catch (error) {
    throw inputError('simulate', '--at', `cannot open '${at}': ${reason(error)}; it should be a serial device that exists and may be used`, error);
  }
}

const reason = (error: unknown): string => (error instanceof Error ? error.message : String(error));
