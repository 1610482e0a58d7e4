import { concatMap } from 'rxjs';
import { z } from 'zod';
import type { Driver } from './driver.js';
import { hostName } from './host-name.js';
import { wholeNumber } from './line-options.js';
import { modbusShape, refuseModbusContradictions } from './modbus-options.js';
import { frameSilence, RtuFraming } from './modbus-rtu-framing.js';
import { readModbus } from './read-modbus.js';
import { baudRate, describeSerial, dtr, parities, portShape, refusePortContradictions, serialTarget, stopBits, withNameAdvice, type SerialOptions } from './serial-port-options.js';
import type { Target } from './wiring.js';

/** Slaves on an RS-485 or RS-232 line, at a port of this computer or behind a serial device server. */
const options = z
  .strictObject({
    driver: z.literal('modbus-rtu'),
    ...portShape,
    host: hostName.optional().meta({ description: 'a serial device server that hands the bytes through, in place of a port' }),
    port: wholeNumber(1, 65_535, 'the TCP port of the device server').optional(),
    baudRate: baudRate(19_200),
    parity: z.enum(parities).default('even').meta({ description: 'even is what the standard starts from; many devices come with none' }),
    stopBits,
    dtr,
    ...modbusShape,
  })
  .superRefine((o, context) => {
    refuseModbusContradictions(o, context);
    if (o.host === undefined && o.port === undefined) return refusePortContradictions(o, context);
    const refuse = (key: string, message: string) => context.addIssue({ code: 'custom', path: [key], message });
    if (o.host === undefined) refuse('host', 'missing; a TCP port needs the host of the device server');
    if (o.port === undefined) refuse('port', 'missing; name the TCP port of the device server');
    if (o.path !== undefined || o.match !== undefined) refuse('path', 'name either a port of this computer or a device server, not both');
  });

export type ModbusRtuOptions = z.output<typeof options>;

const serialOf = (o: ModbusRtuOptions): SerialOptions => ({ ...o, dataBits: 8 });
const targetOf = (o: ModbusRtuOptions): Target =>
  o.host !== undefined && o.port !== undefined ? { kind: 'tcp', host: o.host, port: o.port } : serialTarget(serialOf(o));
const describe = (o: ModbusRtuOptions): string => (o.host === undefined ? describeSerial(serialOf(o)) : `${o.host}:${o.port}`);

export const modbusRtu = {
  options,
  describe,
  read: (o, wiring, clock) =>
    readModbus(targetOf(o), describe(o), o, () => new RtuFraming(frameSilence(o.baudRate)), wiring, clock).pipe(concatMap(withNameAdvice(o.path))),
} satisfies Driver<ModbusRtuOptions>;
