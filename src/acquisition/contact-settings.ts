import { z } from 'zod';

const text = (meaning: string) => z.string({ error: `should be ${meaning}` }).trim().min(1, { error: `should be ${meaning}` });
const bit = (meaning: string) => z.union([z.literal(0), z.literal(1)], { error: `should be 0 or 1: ${meaning}` });

const where = (name: string) => ({
  instrument: text('the name of one of the instruments of this bench'),
  value: text('the name of the value on that link').default(name),
});

/** Switches of the bench, each a value 0 or 1 of some instrument. None is ever required. */
export const contactSchema = z.strictObject({
  lid: z.strictObject({ ...where('lid'), closed: bit('what is read while the lid is shut').default(1) }).optional(),
  pump: z.strictObject({ ...where('pump'), on: bit('what is read while the pump runs').default(1) }).optional(),
  vent: z.strictObject({ ...where('vent'), open: bit('what is read while the vent valve is open').default(1) }).optional(),
});
export type ContactSettings = z.output<typeof contactSchema>;
export const contactKeys: readonly string[] = [...Object.keys(contactSchema.shape), 'instrument', 'value', 'closed', 'on', 'open'];

/** One switch: where it is read, and which reading says what. */
export interface ContactInput {
  readonly contact: 'lid' | 'pump' | 'vent';
  readonly instrument: string;
  readonly value: string;
  /** State for a reading of 0 and of 1. */
  readonly states: readonly [ContactState, ContactState];
}
export type ContactState = 'open' | 'closed' | 'on' | 'off';

/** The switches of a bench, one by one. */
export function contactInputs({ lid, pump, vent }: ContactSettings): ContactInput[] {
  const states = (one: 0 | 1, then: ContactState, otherwise: ContactState): ContactInput['states'] => (one === 1 ? [otherwise, then] : [then, otherwise]);
  return [
    ...(lid ? [{ contact: 'lid', instrument: lid.instrument, value: lid.value, states: states(lid.closed, 'closed', 'open') } as const] : []),
    ...(pump ? [{ contact: 'pump', instrument: pump.instrument, value: pump.value, states: states(pump.on, 'on', 'off') } as const] : []),
    ...(vent ? [{ contact: 'vent', instrument: vent.instrument, value: vent.value, states: states(vent.open, 'open', 'closed') } as const] : []),
  ];
}
