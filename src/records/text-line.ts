import { z } from 'zod';

/** Signs that must not stand in a text of one line: control signs, and those that turn the direction of writing round. */
export const unprintable = /[\p{Cc}\u2028\u2029\u202A-\u202E\u2066-\u2069]/u;

/** A line that a person writes, of at most `most` characters; blanks around it do not count. */
export const textLine = (most: number) =>
  z
    .string({ error: 'should be a text' })
    .trim()
    .max(most, { error: `should have ${most} characters or fewer` })
    .refine((text) => !unprintable.test(text), { error: 'should be one line without control characters' });
