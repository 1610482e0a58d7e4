import { concatMap } from 'rxjs';
import { z } from 'zod';
import type { Driver } from './driver.js';
import { lineShape, refuseContradictions } from './line-options.js';
import { readLines } from './read-lines.js';
import { baudRate, describeSerial, dtr, parities, portShape, refusePortContradictions, serialTarget, stopBits, withNameAdvice } from './serial-port-options.js';

/** An instrument that sends or answers lines of text on a serial port. */
const options = z
  .strictObject({
    driver: z.literal('serial-line'),
    ...portShape,
    baudRate: baudRate(9600),
    dataBits: z.union([z.literal(7), z.literal(8)], { error: 'should be 7 or 8' }).default(8),
    parity: z.enum(parities).default('none'),
    stopBits,
    dtr,
    ...lineShape,
  })
  .superRefine((o, context) => {
    refuseContradictions(o, context);
    refusePortContradictions(o, context);
  });

export type SerialLineOptions = z.output<typeof options>;

export const serialLine = {
  options,
  describe: describeSerial,
  read: (o, wiring, clock) => readLines(serialTarget(o), describeSerial(o), o, wiring, clock).pipe(concatMap(withNameAdvice(o.path))),
} satisfies Driver<SerialLineOptions>;
