import { z } from 'zod';
import { labelCharsets } from './label-charset.js';
import { pressureUnitOf, pressureUnits, type PressureUnit } from '../core/units.js';

const line = (what: string, most: number) =>
  z
    .string({ error: `should be ${what}` })
    .trim()
    .min(1, { error: `should be ${what}` })
    .max(most, { error: `should be ${what} of at most ${most} characters` });

const isZone = (name: string): boolean => {
  try {
    new Intl.DateTimeFormat('en', { timeZone: name });
    return true;
  } catch {
    return false;
  }
};

const unit = z.string({ error: 'should be a pressure unit such as psi' }).transform((written, context): PressureUnit => {
  const known = pressureUnitOf(written);
  if (known !== undefined) return known;
  context.addIssue({ code: 'custom', message: `should be one of ${pressureUnits.join(', ')}` });
  return z.NEVER;
});

/** Section `shop` of the bench file: who stands at the head of a certificate. */
export const shopSection = z.strictObject({
  name: line('the name of the shop', 100),
  address: z.array(line('a line of the address', 100), { error: 'should be a list of lines' }).max(5, { error: 'should have at most 5 lines' }).default([]),
  logo: line('the path of a PNG or JPEG picture, relative to this file', 1000).optional(),
  font: line('the path of a TrueType or OpenType font, relative to this file', 1000).optional(),
  pressureUnit: unit.optional(),
  paper: z.enum(['A4', 'Letter']).default('A4'),
  labelCharset: z.enum(labelCharsets, { error: `should be one of ${labelCharsets.join(', ')}` }).default('ascii'),
  timeZone: line('a time zone such as Europe/Berlin', 60).refine(isZone, { error: 'should be a time zone such as Europe/Berlin' }).optional(),
});

/** Every key of the section, for the hint at a mistyped one. */
export const shopKeys: readonly string[] = Object.keys(shopSection.shape);

/**
 * Times are printed in `timeZone`; without one, in the zone that this computer is set to. `logo` and `font` are paths; the font writes what the document's own has no signs for. Pressures are given
 * in `pressureUnit` too, behind bar; without one, in the unit that the plan was written in.
 * `labelCharset` says which signs the receipt printer has for labels as text.
 */
export type ShopSection = z.output<typeof shopSection>;
