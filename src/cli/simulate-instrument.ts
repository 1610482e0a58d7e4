import { AsciiInstrument } from '../../simulators/instruments/ascii-instrument.js';
import { createPtyPair } from '../../simulators/instruments/pty-pair.js';
import { openSerialWire } from '../../simulators/instruments/serial-line.js';
import { listenTcpWire } from '../../simulators/instruments/tcp-line.js';
import type { Wire } from '../../simulators/instruments/wire.js';
import { play } from '../../simulators/play.js';
import { demoPlaylist, playlistStream } from '../../simulators/player.js';
import { scenarioNamed } from '../../simulators/run-scenario.js';
import { inputError } from '../core/problems.js';
import type { PressureUnit } from '../core/units.js';

export interface InstrumentFlags {
  readonly as: 'serial-line' | 'tcp-line';
  readonly at?: string;
  readonly scenario?: string;
  readonly seed: number;
  readonly speed: number;
  readonly repeat?: true;
  readonly query?: string;
  readonly unit: PressureUnit;
}

interface OpenWire {
  readonly wire: Wire;
  /** What a bench connects to. */
  readonly reachable: string;
  readonly close: () => Promise<void>;
}

/** Plays a scenario, or the demo, as an ASCII instrument until it is over or the program is told to stop. */
export async function playInstrument(flags: InstrumentFlags): Promise<void> {
  const endless = flags.scenario === undefined || flags.repeat === true;
  const playlist = flags.scenario === undefined ? demoPlaylist : [scenarioNamed(flags.scenario)];
  const { wire, reachable, close } = await openWire(flags);
  const stop = new AbortController();
  const onSignal = (): void => stop.abort();
  process.once('SIGINT', onSignal);
  process.once('SIGTERM', onSignal);
  try {
    const instrument = new AsciiInstrument(wire, { format: { unit: flags.unit }, ...(flags.query === undefined ? {} : { query: unescaped(flags.query) }) });
    process.stderr.write(`simulated instrument on ${reachable}; Ctrl-C ends it\n`);
    const stream = playlistStream(playlist, {
      seed: flags.seed,
      rounds: endless ? Number.POSITIVE_INFINITY : 1,
      announce: (scenario, seed) => process.stderr.write(`${scenario.name}, seed ${seed}: ${scenario.summary}\n`),
    });
    await play(stream, (reading) => instrument.show(reading), { speed: flags.speed, signal: stop.signal });
  } finally {
    process.off('SIGINT', onSignal);
    process.off('SIGTERM', onSignal);
    await close();
  }
}

async function openWire(flags: InstrumentFlags): Promise<OpenWire> {
  return flags.as === 'tcp-line' ? openTcp(flags.at) : openSerial(flags.at);
}

async function openTcp(at: string | undefined): Promise<OpenWire> {
  const match = /^(?:(.+):)?(\d{1,5})$/.exec(at ?? '');
  const port = Number(match?.[2]);
  if (match === null || port > 65_535) {
    throw inputError('simulate', '--at', `${at === undefined ? 'missing; it' : `'${at}'`} should be HOST:PORT to listen on, for example 127.0.0.1:4001`);
  }
  try {
    const wire = await listenTcpWire(port, match[1] ?? '127.0.0.1');
    return { wire, reachable: `${wire.host}:${wire.port}`, close: () => wire.close() };
  } catch (error) {
    throw inputError('simulate', '--at', `cannot listen on '${at}': ${reason(error)}; choose another address or port`, error);
  }
}

async function openSerial(at: string | undefined): Promise<OpenWire> {
  if (at === undefined) throw inputError('simulate', '--at', "missing; it must be a serial device such as /dev/ttyUSB0, or 'new' for a pair made with socat");
  if (at === 'new') {
    const pair = await createPtyPair();
    const wire = await openSerialWire(pair.near);
    return { wire, reachable: pair.far, close: async () => { await wire.close(); await pair.close(); } };
  }
  try {
    const wire = await openSerialWire(at);
    return { wire, reachable: `the other end of ${at}`, close: () => wire.close() };
  } catch (error) {
    throw inputError('simulate', '--at', `cannot open '${at}': ${reason(error)}; it should be a serial device that exists and may be used`, error);
  }
}

const reason = (error: unknown): string => (error instanceof Error ? error.message : String(error));

/** `\r` and `\n` as people write them in a shell. */
const unescaped = (text: string): string => text.replaceAll('\\r', '\r').replaceAll('\\n', '\n');
