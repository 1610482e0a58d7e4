import { Command, Option } from 'commander';
import { systemClock } from '../../drivers/clock.js';
import { describePort, listPorts } from '../../drivers/ports.js';
import { realWiring } from '../../drivers/real-wiring.js';
import { parities } from '../../drivers/serial-port-options.js';
import type { SignalUnit } from '../../drivers/signal-unit.js';
import { LinkError } from '../../drivers/wiring.js';
import { exitCode } from '../core/outcome.js';
import { parseQuantity } from '../core/quantity.js';
import { inputError } from '../core/problems.js';
import { runSniff, type SniffRequest } from '../sniff/run-sniff.js';
import { parseTarget } from '../sniff/sniff-target.js';
import type { RegisterRange } from '../sniff/registers.js';
import { unitFlag } from './calibrate-flags.js';
import { rangeFlag } from './instrument-flags.js';
import { askFlag, baudsFlag, registersFlag, secondsFlag, unitIdsFlag } from './sniff-flags.js';
import { StepLine } from './step-line.js';
import { endSignal } from './wait-for-end.js';

interface Flags {
  readonly modbus?: true;
  readonly rtu?: true;
  readonly ask?: string;
  readonly expect?: string;
  readonly range?: { readonly lower: number; readonly upper: number };
  readonly unit?: SignalUnit;
  readonly baud?: number[];
  readonly parity?: (typeof parities)[number];
  readonly dataBits?: '7' | '8';
  readonly stopBits?: '1' | '2';
  readonly each: number;
  readonly limit: number;
  readonly unitId?: number[];
  readonly registers: RegisterRange[];
  readonly readings: number;
  readonly every: number;
  readonly answerWithin?: number;
  readonly yaml?: true;
  readonly json?: true;
}

const readingsFlag = (text: string): number => {
  const value = Number(text);
  if (Number.isInteger(value) && value >= 1 && value <= 1000) return value;
  throw inputError('sniff', '--readings', `'${text}' should be a whole number from 1 to 1000, for example 8`);
};

/** `sniff PORT` or `sniff HOST:PORT`: what does this instrument send? */
export function sniffCommand(): Command {
  return new Command('sniff')
    .description('find out what an instrument sends and how a bench file reads it')
    .argument('[place]', 'serial port such as /dev/ttyUSB0, or HOST:PORT; without it the serial ports of this computer are named')
    .option('--modbus', 'ask as a Modbus master: RTU on a serial port, Modbus TCP on HOST (port 502 where none is given)')
    .option('--rtu', 'with --modbus and HOST:PORT: RTU frames through a serial device server')
    .addOption(new Option('--ask <text>', "send this text each second and read what comes back, for example '?P\\r'").argParser(askFlag).conflicts('modbus'))
    .option('--expect <pressure>', "what the needle shows now, for example '12.3 bar'; '0 bar' on a vented bench")
    .addOption(new Option('--range <range>', "range of the transducer, for example '0 to 600 bar'").argParser(rangeFlag))
    .addOption(new Option('--unit <unit>', 'unit that the instrument sends, where it is known').argParser(unitFlag))
    .addOption(new Option('--baud <rates>', 'serial: bauds to try, for example 9600,19200; else the usual ones').argParser(baudsFlag))
    .addOption(new Option('--parity <parity>', 'serial: only this parity').choices(parities))
    .addOption(new Option('--data-bits <number>', 'serial lines: 7 or 8; seven bits with parity are found without it').choices(['7', '8']))
    .addOption(new Option('--stop-bits <number>', 'serial: 1 or 2').choices(['1', '2']))
    .addOption(new Option('--each <time>', 'listen so long with each setting').argParser(secondsFlag(0.2, 600)).default(5, '5 s'))
    .addOption(new Option('--limit <time>', 'end after so long in any case').argParser(secondsFlag(1, 3600)).default(120, '2 min'))
    .addOption(new Option('--unit-id <numbers>', 'Modbus: unit ids to ask; else 1 to 10 and 247, on TCP 1 to 10, 0 and 255').argParser(unitIdsFlag))
    .addOption(new Option('--registers <numbers>', 'Modbus: addresses to read, counted from 0').argParser(registersFlag).default([{ from: 0, to: 99 }], '0-99'))
    .addOption(new Option('--readings <number>', 'Modbus: how often every register is read').argParser(readingsFlag).default(8))
    .addOption(new Option('--every <time>', 'Modbus: time between two readings').argParser(secondsFlag(0.02, 60)).default(0.25, '250 ms'))
    .addOption(new Option('--answer-within <time>', 'Modbus: no answer by then is none; else 200 ms, on TCP 500 ms').argParser(secondsFlag(0.01, 30)))
    .option('--yaml', 'print the bench file alone on stdout, and the rest on stderr')
    .option('--json', 'print everything as JSON')
    .addHelpText(
      'after',
      `
It only reads. Nothing at all is sent unless --ask or --modbus is given; with --modbus only functions 1 to 4 (read coils,
discrete inputs, holding registers, input registers) are ever sent, never one that writes. Some instruments restart when a
port is opened. Two programs cannot ask on one line: stop the bench (dwellkeeper start) first.

It ends by itself; Ctrl-C ends it sooner with what it knows. Exit code 0: found; 3: nothing that could be a pressure;
2: the port cannot be opened or an option is wrong.

Examples:
  dwellkeeper sniff /dev/ttyUSB0
  dwellkeeper sniff /dev/ttyUSB0 --ask '?P\\r' --expect '12.3 bar'
  dwellkeeper sniff 192.0.2.10:4001 --range '0 to 1000 bar'
  dwellkeeper sniff /dev/ttyUSB0 --modbus --expect '0 bar'
  dwellkeeper sniff 192.0.2.12 --modbus --yaml > bench.yaml`,
    )
    .action(sniff);
}

async function sniff(place: string | undefined, flags: Flags): Promise<void> {
  const request = await requestOf(place, flags);
  const stop = new AbortController();
  let stopped = false;
  void endSignal().then(() => {
    stopped = true;
    stop.abort();
  });
  const line = new StepLine(true);
  try {
    const result = await runSniff(request, realWiring, systemClock, stop.signal, (text) => line.step(() => `sniff: ${text}`));
    line.end();
    const remarks = stopped ? ['Stopped before its time: this is what was known by then.', ''] : [];
    if (flags.json === true) process.stdout.write(`${JSON.stringify({ stopped, ...result.json }, null, 2)}\n`);
    else {
      const report = [...remarks, ...result.report].join('\n');
      (flags.yaml === true ? process.stderr : process.stdout).write(`${report}\n`);
      if (result.bench !== null) process.stdout.write(flags.yaml === true ? result.bench : `\nA bench file for it:\n\n${result.bench}`);
    }
    process.exitCode = result.bench === null ? exitCode.inconclusive : exitCode.pass;
  } catch (error) {
    line.end();
    if (error instanceof LinkError) throw inputError('sniff', '', error.message, error);
    throw error;
  }
}

/** What was typed as one request; @throws InputError that says what is missing or contradicts. */
async function requestOf(place: string | undefined, flags: Flags): Promise<SniffRequest> {
  if (place === undefined) {
    const ports = await listPorts();
    throw inputError('sniff', 'PLACE', `missing; name a serial port or HOST:PORT; serial ports found: ${ports.map(describePort).join('; ') || 'none'}`);
  }
  const target = parseTarget(place);
  if (typeof target === 'string') throw inputError('sniff', 'PLACE', target);
  const serial = target.kind === 'serial';
  if (flags.rtu === true && (serial || flags.modbus !== true)) throw inputError('sniff', '--rtu', 'is for --modbus and HOST:PORT only; on a serial port --modbus is RTU already');
  if (!serial && target.port === null && (flags.modbus !== true || flags.rtu === true)) throw inputError('sniff', 'PLACE', `'${place}' has no TCP port; write HOST:PORT, for example ${place}:4001`);
  if (!serial) for (const key of ['baud', 'parity', 'dataBits', 'stopBits'] as const) if (flags[key] !== undefined) throw inputError('sniff', `--${key.replace('B', '-b')}`, 'is for serial ports; on the network the device server has it');
  if (serial && flags.unitId?.includes(0) === true) throw inputError('sniff', '--unit-id', '0 is the broadcast address of a serial line, which no slave answers');
  const expect = flags.expect === undefined ? undefined : parseQuantity(flags.expect, 'pressure', '12.3 bar');
  if (typeof expect === 'string') throw inputError('sniff', '--expect', expect);
  const tcp = !serial && flags.rtu !== true;
  return {
    target: target.kind === 'tcp' ? { ...target, port: target.port ?? 502 } : target,
    how: flags.modbus === true ? 'modbus' : 'lines',
    rtuOverTcp: flags.rtu === true,
    known: {
      ...(flags.baud !== undefined && { bauds: flags.baud }), ...(flags.parity !== undefined && { parity: flags.parity }),
      ...(flags.dataBits !== undefined && { dataBits: flags.dataBits === '7' ? 7 : 8 }), ...(flags.stopBits !== undefined && { stopBits: flags.stopBits === '2' ? 2 : 1 }),
    },
    wanted: { ...(flags.range !== undefined && { range: flags.range }), ...(expect !== undefined && { expect }), ...(flags.unit !== undefined && { unit: flags.unit }) },
    ...(flags.ask !== undefined && { ask: flags.ask }),
    each: flags.each, limit: flags.limit,
    unitIds: flags.unitId ?? [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, ...(tcp ? [0, 255] : [247])],
    ranges: flags.registers, rounds: flags.readings, every: flags.every,
    answerWithin: flags.answerWithin ?? (tcp ? 0.5 : 0.2),
  };
}
