import { AsciiInstrument } from '../../simulators/instruments/ascii-instrument.js';
import { createPtyPair } from '../../simulators/instruments/pty-pair.js';
import { openSerialWire } from '../../simulators/instruments/serial-line.js';
import { listenTcpWire } from '../../simulators/instruments/tcp-line.js';

/** A simulated instrument at the end of a real link. */
export interface DemoInstrument {
  readonly instrument: AsciiInstrument;
  /** The `input` of a bench file that reads it. */
  readonly input: Readonly<Record<string, unknown>>;
  /** What the link is, for people. */
  readonly link: string;
  /** Why it is not a serial device; `null` where it is one. */
  readonly instead: string | null;
  close(): Promise<void>;
}

/** An instrument on a serial device of its own; over TCP where the system cannot make such a device. */
export async function demoInstrument(): Promise<DemoInstrument> {
  try {
    const pair = await createPtyPair();
    const wire = await openSerialWire(pair.near);
    return {
      instrument: new AsciiInstrument(wire),
      input: { driver: 'serial-line', path: pair.far },
      link: `a serial device (${pair.far})`,
      instead: null,
      close: async () => {
        await wire.close();
        await pair.close();
      },
    };
  } catch (error) {
    const wire = await listenTcpWire();
    return {
      instrument: new AsciiInstrument(wire),
      input: { driver: 'tcp-line', host: wire.host, port: wire.port },
      link: `TCP (${wire.host}:${wire.port})`,
      instead: error instanceof Error ? error.message : String(error),
      close: () => wire.close(),
    };
  }
}
