import { z } from 'zod';
import { labelCharsets } from './label-charset.js';
import { longestSerial } from '../records/assembly-serials.js';

const number = z.coerce.number({ error: 'should be the number of a run' }).int({ error: 'should be the number of a run' }).positive({ error: 'should be the number of a run' });
const serial = z.string().trim().min(1, { error: 'should be a serial number' }).max(longestSerial, { error: `should be a serial number of at most ${longestSerial} characters` });
const paper = z.enum(['A4', 'Letter'], { error: "should be 'A4' or 'Letter'" });

/** A document that somebody asks for. */
export const documentRequest = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('certificate'), run: number, assembly: serial.optional(), paper: paper.optional() }),
  z.strictObject({
    kind: z.literal('label'), run: number, assembly: serial.optional(),
    width: z.coerce.number().pipe(z.union([z.literal(58), z.literal(80)], { error: 'should be 58 or 80 (mm)' })).default(58),
    form: z.enum(['pdf', 'text'], { error: "should be 'pdf' or 'text'" }).default('pdf'),
    /** Of a text; without it that of the bench file. */
    charset: z.enum(labelCharsets, { error: `should be one of ${labelCharsets.join(', ')}` }).optional(),
  }),
  z.strictObject({ kind: z.literal('record'), run: number, form: z.enum(['json', 'csv'], { error: "should be 'json' or 'csv'" }).default('json') }),
  z.strictObject({ kind: z.literal('trace'), run: number }),
  z.strictObject({ kind: z.literal('order'), order: z.string().trim().min(1, { error: 'should be an order number' }).max(200, { error: 'should have 200 characters or fewer' }), form: z.enum(['pdf', 'zip'], { error: "should be 'pdf' or 'zip'" }).default('pdf'), paper: paper.optional() }),
]);

export type DocumentRequest = z.output<typeof documentRequest>;

/** A document, ready to be saved or sent. */
export interface MadeDocument {
  readonly name: string;
  /** Media type. */
  readonly type: string;
  readonly bytes: Uint8Array;
}
