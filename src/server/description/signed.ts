import { z } from 'zod';
import { authorFields } from '../author.js';

/** A body with whoever makes the change. */
export function signed(body: z.ZodObject, reason: 'reason' | 'no reason needed' = 'no reason needed'): z.ZodObject {
  const { who, why } = authorFields.shape;
  return z.object({
    ...body.shape,
    who: who.optional().describe('who does this; needed at a bench without people, else whoever is signed in counts'),
    why: reason === 'reason' ? why.unwrap().describe('the reason of the change') : why.describe('the reason'),
  });
}
