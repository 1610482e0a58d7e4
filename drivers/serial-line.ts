import { concatMap } from 'rxjs';
import { z } from 'zod';
import type { Driver, Received } from './driver.js';
import { lineShape, refuseContradictions, wholeNumber } from './line-options.js';
import { describeRule } from './ports.js';
import { readLines } from './read-lines.js';
import type { PortRule, SerialTarget } from './wiring.js';

/** An instrument that sends or answers lines of text on a serial port. */
const options = z
  .strictObject({
    driver: z.literal('serial-line'),
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
    baudRate: wholeNumber(50, 4_000_000, 'the baud rate, often 9600').default(9600),
    dataBits: z.union([z.literal(7), z.literal(8)], { error: 'should be 7 or 8' }).default(8),
    parity: z.enum(['none', 'even', 'odd']).default('none'),
    stopBits: z.union([z.literal(1), z.literal(2)], { error: 'should be 1 or 2' }).default(1),
    dtr: z.enum(['raise', 'leave']).default('raise').meta({ description: 'leave: keep DTR as it is at close, so that a reopening does not reset the instrument' }),
    ...lineShape,
  })
  .superRefine((o, context) => {
    refuseContradictions(o, context);
    const ways = [o.path, o.match?.serial, o.match?.socket, o.match?.id].filter((way) => way !== undefined).length;
    if (ways === 1) return;
    const message = ways === 0 ? 'missing; name the port by path, or by match with serial, socket or id' : 'name the port in one way only: path, or one of match.serial, match.socket, match.id';
    context.addIssue({ code: 'custom', path: ['path'], message });
  });

export type SerialLineOptions = z.output<typeof options>;

/** The port that the options mean. */
export function portRule({ path, match }: Pick<SerialLineOptions, 'path' | 'match'>): PortRule {
  if (match?.serial !== undefined) return { by: 'serial', serial: match.serial };
  if (match?.socket !== undefined) return { by: 'socket', socket: match.socket };
  if (match?.id !== undefined) return { by: 'id', id: match.id };
  return { by: 'path', path: path ?? '' };
}

const describe = (o: SerialLineOptions) =>
  `${describeRule(portRule(o))} (${o.baudRate} ${o.dataBits}${o.parity.charAt(0).toUpperCase()}${o.stopBits})`;

const targetOf = (o: SerialLineOptions): SerialTarget => {
  const { baudRate, dataBits, parity, stopBits, dtr } = o;
  return { kind: 'serial', port: portRule(o), baudRate, dataBits, parity, stopBits, dtr };
};

/** Numbers such as ttyUSB0 follow the order of plugging: after a replug or a restart they may mean another bench. */
const withNameAdvice = (path: string | undefined) => (item: Received): readonly Received[] => {
  if (path === undefined || !/^\/dev\/tty(USB|ACM)\d+$/.test(path) || item.kind !== 'notice' || item.code !== 'opened') return [item];
  const text = `${path} may be another adapter after a replug; name it by match (serial or socket), or by a path under /dev/serial/by-id`;
  return [item, { kind: 'notice', time: item.time, code: 'unsteady-name', text }];
};

export const serialLine = {
  options,
  describe,
  read: (o, wiring, clock) => readLines(targetOf(o), describe(o), o, wiring, clock).pipe(concatMap(withNameAdvice(o.path))),
} satisfies Driver<SerialLineOptions>;
