import { z } from 'zod';
import type { Driver } from './driver.js';
import { lineShape, refuseContradictions } from './line-options.js';
import { readLines } from './read-lines.js';

const port = 'should be a TCP port from 1 to 65535';

/** An instrument or a serial device server that sends or answers lines of text over TCP. */
const options = z
  .strictObject({
    driver: z.literal('tcp-line'),
    host: z.string().min(1),
    port: z.number({ error: port }).int({ error: port }).min(1, { error: port }).max(65_535, { error: port }),
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
