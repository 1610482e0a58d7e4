import type { SerialSettings } from './sniff-target.js';

/** Bauds of indicators that send lines, the usual ones first (common practice). */
export const lineBauds: readonly number[] = [9600, 19_200, 115_200, 38_400, 57_600, 4800, 2400, 1200];

/** Settings of Modbus slaves: 19200 8E1 is the standard's own start (MODBUS over Serial Line V1.02, 2.3.2), the others common practice. */
const modbusPairs: readonly (readonly [number, SerialSettings['parity']])[] = [
  [19_200, 'even'], [9600, 'none'], [9600, 'even'], [19_200, 'none'], [115_200, 'none'], [38_400, 'none'], [115_200, 'even'],
  [38_400, 'even'], [57_600, 'none'], [57_600, 'even'], [4800, 'none'], [4800, 'even'], [2400, 'none'], [2400, 'even'], [9600, 'odd'], [19_200, 'odd'],
];

/** What a person already knows of the line. */
export interface KnownSettings {
  readonly bauds?: readonly number[];
  readonly parity?: SerialSettings['parity'];
  readonly dataBits?: SerialSettings['dataBits'];
  readonly stopBits?: SerialSettings['stopBits'];
}

/** Settings to listen with, one after the other. Seven bits with parity are found in what comes and are tried then. */
export const lineSettings = ({ bauds = lineBauds, parity = 'none', dataBits = 8, stopBits = 1 }: KnownSettings): SerialSettings[] =>
  bauds.map((baudRate) => ({ baudRate, dataBits, parity, stopBits }));

/** Settings to ask a Modbus slave with, one after the other. */
export function modbusSettings({ bauds, parity, stopBits = 1 }: KnownSettings): SerialSettings[] {
  const parities = parity === undefined ? (['even', 'none', 'odd'] as const) : [parity];
  const pairs = bauds === undefined ? modbusPairs.filter(([, each]) => parity === undefined || each === parity) : bauds.flatMap((baud) => parities.map((each) => [baud, each] as const));
  const odd = bauds === undefined && parity === 'odd' ? [...new Set(modbusPairs.map(([baud]) => baud))].map((baud) => [baud, 'odd'] as const) : pairs;
  return odd.map(([baudRate, each]) => ({ baudRate, dataBits: 8, parity: each, stopBits }));
}
