import { z } from 'zod';
import type { Driver } from './driver.js';
import { hostName } from './host-name.js';
import { lineShape, refuseContradictions, wholeNumber } from './line-options.js';
import { readLines } from './read-lines.js';

/** An instrument or a serial device server that sends or answers lines of text over TCP. */
const options = z
  .strictObject({
    driver: z.literal('tcp-line'),
    host: hostName,
    port: wholeNumber(1, 65_535, 'the TCP port of the instrument'),
    ...lineShape,
  })
  .superRefine(refuseContradictions);

export type TcpLineOptions = z.output<typeof options>;

const describe = (o: TcpLineOptions) => `${o.host}:${o.port}`;

export const tcpLine = {
  options,
  describe,
  read: (o, wiring, clock) => readLines({ kind: 'tcp', host: o.host, port: o.port }, describe(o), o, wiring, clock),
} satisfies Driver<TcpLineOptions>;
