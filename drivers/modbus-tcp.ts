import { z } from 'zod';
import type { Driver } from './driver.js';
import { hostName } from './host-name.js';
import { wholeNumber } from './line-options.js';
import { modbusShape, refuseModbusContradictions } from './modbus-options.js';
import { TcpFraming } from './modbus-tcp-framing.js';
import { readModbus } from './read-modbus.js';

/** A device or gateway that speaks Modbus TCP. */
const options = z
  .strictObject({
    driver: z.literal('modbus-tcp'),
    host: hostName,
    port: wholeNumber(1, 65_535, 'the TCP port of the device, usually 502').default(502),
    ...modbusShape,
  })
  .superRefine(refuseModbusContradictions);

export type ModbusTcpOptions = z.output<typeof options>;

const describe = (o: ModbusTcpOptions): string => `${o.host}:${o.port}`;

export const modbusTcp = {
  options,
  describe,
  read: (o, wiring, clock) => readModbus({ kind: 'tcp', host: o.host, port: o.port }, describe(o), o, () => new TcpFraming(), wiring, clock),
} satisfies Driver<ModbusTcpOptions>;
