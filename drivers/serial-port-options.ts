import { z } from 'zod';
import type { Received } from './driver.js';
import { wholeNumber } from './line-options.js';
import { describeRule } from './ports.js';
import type { PortRule, SerialTarget } from './wiring.js';

/** Which port it is; one of these. */
export const portShape = {
  path: z.string().min(1).optional().meta({ description: 'the port, best by a name that does not change: /dev/serial/by-id/...' }),
  match: z
    .strictObject({
      serial: z.string().min(1).optional().meta({ description: 'serial number of the USB adapter' }),
      socket: z.string().min(1).optional().meta({ description: 'physical USB socket: a name under /dev/serial/by-path' }),
      id: z
        .string()
        .regex(/^[0-9a-fA-F]{4}:[0-9a-fA-F]{4}$/, { error: 'should be maker:product such as 1a86:7523' })
        .optional()
        .meta({ description: 'type of the USB adapter, where there is only one' }),
    })
    .optional(),
} as const;

export const baudRate = (fallback: number) => wholeNumber(50, 4_000_000, 'the baud rate, often 9600').default(fallback);
export const stopBits = z.union([z.literal(1), z.literal(2)], { error: 'should be 1 or 2' }).default(1);
export const parities = ['none', 'even', 'odd'] as const;
export const dtr = z
  .enum(['raise', 'leave'])
  .default('raise')
  .meta({ description: 'leave: keep DTR as it is at close, so that a reopening does not reset the instrument' });

interface PortChoice {
  readonly path?: string | undefined;
  readonly match?: { readonly serial?: string | undefined; readonly socket?: string | undefined; readonly id?: string | undefined } | undefined;
}

export type SerialOptions = PortChoice & Omit<SerialTarget, 'kind' | 'port'>;

const waysOf = ({ path, match }: PortChoice): number => [path, match?.serial, match?.socket, match?.id].filter((way) => way !== undefined).length;

/** A port is named in one way and not in several; for `superRefine`. */
export function refusePortContradictions(o: PortChoice, context: z.RefinementCtx): void {
  const ways = waysOf(o);
  if (ways === 1) return;
  const message = ways === 0 ? 'missing; name the port by path, or by match with serial, socket or id' : 'name the port in one way only: path, or one of match.serial, match.socket, match.id';
  context.addIssue({ code: 'custom', path: ['path'], message });
}

/** The port that the options mean. */
function portRule({ path, match }: PortChoice): PortRule {
  if (match?.serial !== undefined) return { by: 'serial', serial: match.serial };
  if (match?.socket !== undefined) return { by: 'socket', socket: match.socket };
  if (match?.id !== undefined) return { by: 'id', id: match.id };
  return { by: 'path', path: path ?? '' };
}

/** `/dev/ttyUSB0 (9600 8N1)` */
export const describeSerial = (o: SerialOptions): string =>
  `${describeRule(portRule(o))} (${o.baudRate} ${o.dataBits}${o.parity.charAt(0).toUpperCase()}${o.stopBits})`;

export const serialTarget = (o: SerialOptions): SerialTarget => ({
  kind: 'serial', port: portRule(o), baudRate: o.baudRate, dataBits: o.dataBits, parity: o.parity, stopBits: o.stopBits, dtr: o.dtr,
});

/** Numbers such as ttyUSB0 follow the order of plugging: after a replug or a restart they may mean another bench. */
export const withNameAdvice = (path: string | undefined) => (item: Received): readonly Received[] => {
  if (path === undefined || !/^\/dev\/tty(USB|ACM)\d+$/.test(path) || item.kind !== 'notice' || item.code !== 'opened') return [item];
  const text = `${path} may be another adapter after a replug; name it by match (serial or socket), or by a path under /dev/serial/by-id`;
  return [item, { kind: 'notice', time: item.time, code: 'unsteady-name', text }];
};
