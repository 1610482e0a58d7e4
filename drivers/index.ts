import type { Observable } from 'rxjs';
import { z } from 'zod';
import { nearest } from '../src/core/problems.js';
import { quoted } from '../src/core/quoted.js';
import type { Clock } from './clock.js';
import type { Received } from './driver.js';
import { modbusRtu } from './modbus-rtu.js';
import { modbusTcp } from './modbus-tcp.js';
import { valueSchema } from './modbus-values.js';
import { replay } from './replay.js';
import { serialLine } from './serial-line.js';
import { tcpLine } from './tcp-line.js';
import type { Wiring } from './wiring.js';

/** Every driver by name. A new one: its file, and a word in each of the three places here. */
export const drivers = { 'serial-line': serialLine, 'tcp-line': tcpLine, 'modbus-rtu': modbusRtu, 'modbus-tcp': modbusTcp, replay } as const;

function wrongDriver(input: unknown): string {
  const names = Object.keys(drivers);
  const written: unknown = typeof input === 'object' && input !== null && 'driver' in input ? input.driver : undefined;
  if (typeof written !== 'string') return `needs a driver: one of ${names.join(', ')}`;
  const meant = nearest(written, names);
  return `${quoted(written)} is no driver; ${meant === undefined ? `known are ${names.join(', ')}` : `did you mean '${meant}'?`}`;
}

/** The `input` of a channel. */
export const inputSchema = z.discriminatedUnion('driver', [serialLine.options, tcpLine.options, modbusRtu.options, modbusTcp.options, replay.options], {
  error: (issue) => wrongDriver(issue.input),
});
export type InputOptions = z.output<typeof inputSchema>;

/** Every key that the options of some driver may have. */
export const inputKeys: readonly string[] = [
  ...new Set([...Object.values(drivers).flatMap((driver) => Object.keys(driver.options.shape)), ...Object.keys(valueSchema.shape)]),
];

/** Names of the values that an input gives: those of its list, or `pressure` where it carries one. */
export const valuesOf = (input: InputOptions): readonly string[] => ('values' in input ? input.values.map(({ value }) => value) : ['pressure']);

/** Where an input reads from, and how. */
export interface Source {
  readonly where: string;
  read(wiring: Wiring, clock: Clock): Observable<Received>;
}

export function sourceOf(input: InputOptions): Source {
  switch (input.driver) {
    case 'serial-line':
      return { where: serialLine.describe(input), read: (wiring, clock) => serialLine.read(input, wiring, clock) };
    case 'tcp-line':
      return { where: tcpLine.describe(input), read: (wiring, clock) => tcpLine.read(input, wiring, clock) };
    case 'modbus-rtu':
      return { where: modbusRtu.describe(input), read: (wiring, clock) => modbusRtu.read(input, wiring, clock) };
    case 'modbus-tcp':
      return { where: modbusTcp.describe(input), read: (wiring, clock) => modbusTcp.read(input, wiring, clock) };
    case 'replay':
      return { where: replay.describe(input), read: (wiring, clock) => replay.read(input, wiring, clock) };
  }
}
