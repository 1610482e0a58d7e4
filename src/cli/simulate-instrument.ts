import { AsciiInstrument } from '../../simulators/instruments/ascii-instrument.js';
import { ModbusInstrument } from '../../simulators/instruments/modbus-instrument.js';
import { ModbusRtuLine } from '../../simulators/instruments/modbus-rtu.js';
import { listenModbusTcp } from '../../simulators/instruments/modbus-tcp.js';
import type { SerialSettings } from '../../simulators/instruments/serial-line.js';
import { listenTcpWire } from '../../simulators/instruments/tcp-line.js';
import type { WordOrder } from '../../simulators/instruments/word-order.js';
import { play, type Reading } from '../../simulators/play.js';
import { demoPlaylist, playlistStream } from '../../simulators/player.js';
import { scenarioNamed } from '../../simulators/run-scenario.js';
import type { PressureUnit } from '../core/units.js';
import { listenAt, openSerialAt, type OpenWire } from './simulate-place.js';

export const instrumentKinds = ['serial-line', 'tcp-line', 'modbus-tcp', 'modbus-rtu'] as const;

export interface InstrumentFlags {
  readonly as: (typeof instrumentKinds)[number];
  readonly at?: string;
  readonly scenario?: string;
  readonly seed: number;
  readonly speed: number;
  readonly repeat?: true;
  readonly query?: string;
  readonly unit: PressureUnit;
  readonly unitId: number;
  readonly wordOrder: WordOrder;
  readonly channels: number;
  readonly baud?: number;
  readonly parity?: SerialSettings['parity'];
}

/** Something that shows readings at the end of a real link. */
interface OpenInstrument {
  readonly show: (reading: Reading) => void;
  readonly reachable: string;
  readonly close: () => Promise<void>;
}

/** Plays a scenario, or the demo, as an instrument until it is over or the program is told to stop. */
export async function playInstrument(flags: InstrumentFlags): Promise<void> {
  const endless = flags.scenario === undefined || flags.repeat === true;
  const playlist = flags.scenario === undefined ? demoPlaylist : [scenarioNamed(flags.scenario)];
  const instrument = await openInstrument(flags);
  const stop = new AbortController();
  const onSignal = (): void => stop.abort();
  process.once('SIGINT', onSignal);
  process.once('SIGTERM', onSignal);
  try {
    process.stderr.write(`simulated instrument on ${instrument.reachable}; Ctrl-C ends it\n`);
    const stream = playlistStream(playlist, {
      seed: flags.seed,
      rounds: endless ? Number.POSITIVE_INFINITY : 1,
      announce: (scenario, seed) => process.stderr.write(`${scenario.name}, seed ${seed}: ${scenario.summary}\n`),
    });
    await play(stream, instrument.show, { speed: flags.speed, signal: stop.signal });
  } finally {
    process.off('SIGINT', onSignal);
    process.off('SIGTERM', onSignal);
    await instrument.close();
  }
}

async function openInstrument(flags: InstrumentFlags): Promise<OpenInstrument> {
  switch (flags.as) {
    case 'serial-line':
      return lines(await openSerialAt(flags.at, serialSettings(flags, 9600, 'none')), flags);
    case 'tcp-line': {
      const wire = await listenAt(flags.at, listenTcpWire);
      return lines({ wire, reachable: `${wire.host}:${wire.port}`, close: () => wire.close() }, flags);
    }
    case 'modbus-tcp': {
      const instrument = new ModbusInstrument(flags);
      const server = await listenAt(flags.at, (port, host) => listenModbusTcp([instrument], port, host));
      return { show: (reading) => instrument.show(reading), reachable: `${server.host}:${server.port}, unit id ${flags.unitId}`, close: () => server.close() };
    }
    case 'modbus-rtu': {
      const instrument = new ModbusInstrument(flags);
      const settings = serialSettings(flags, 19_200, 'even');
      const { wire, reachable, close } = await openSerialAt(flags.at, settings);
      new ModbusRtuLine(wire, [instrument]);
      return { show: (reading) => instrument.show(reading), reachable: `${reachable} (${settings.baudRate} baud, parity ${settings.parity}), unit id ${flags.unitId}`, close };
    }
  }
}

/** What a kind of instrument usually has, where no option says otherwise. */
const serialSettings = ({ baud, parity }: InstrumentFlags, usualBaud: number, usualParity: SerialSettings['parity']): SerialSettings => ({
  baudRate: baud ?? usualBaud,
  parity: parity ?? usualParity,
});

function lines({ wire, reachable, close }: OpenWire, { unit, query }: InstrumentFlags): OpenInstrument {
  const instrument = new AsciiInstrument(wire, { format: { unit }, ...(query === undefined ? {} : { query: unescaped(query) }) });
  return { show: (reading) => instrument.show(reading), reachable, close };
}

/** `\r` and `\n` as people write them in a shell. */
const unescaped = (text: string): string => text.replaceAll('\\r', '\r').replaceAll('\\n', '\n');
