import { SerialPort } from 'serialport';
import { sendLimit, type Wire } from './wire.js';

export interface SerialSettings {
  readonly baudRate: number;
  readonly parity: 'none' | 'even' | 'odd';
}

/** Opens an existing serial device or pty as the instrument's end, 8 data bits. Rejects when it cannot be opened. */
export async function openSerialWire(path: string, settings: SerialSettings = { baudRate: 9600, parity: 'none' }): Promise<Wire> {
  const port = new SerialPort({ path, ...settings, autoOpen: false, lock: false });
  await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
  // A link that goes while nobody listens must not end the program; sends after it are dropped.
  port.on('error', () => undefined);
  // Reading on, so that the going of the other side is noticed.
  port.resume();
  return {
    send: (bytes) => {
      if (port.isOpen && port.writableLength + bytes.length <= sendLimit) port.write(bytes);
    },
    onBytes: (listener) => void port.on('data', (bytes: Buffer) => listener(bytes)),
    close: () => new Promise((resolve) => (port.isOpen ? port.close(() => resolve()) : resolve())),
  };
}
