import type { z } from 'zod';

/** A type without `readonly` and without the `undefined` of fields that may be left out: JSON knows neither. */
export type AsJson<T> = T extends readonly (infer Item)[]
  ? AsJson<Item>[]
  : T extends object
    ? { -readonly [Key in keyof T]: AsJson<Exclude<T[Key], undefined>> }
    : T;

type Same<A, B> = (<T>() => T extends A ? 1 : 2) extends <T>() => T extends B ? 1 : 2 ? true : false;

/**
 * A schema for answers of a type that the handlers give. Does not compile unless the schema gives that very type, field by
 * field: what is described cannot drift from what is sent.
 *
 *     const proportion = shapeOf<Proportion>()(z.object({ share: z.number(), lower: z.number(), upper: z.number() }));
 */
export const shapeOf =
  <T>() =>
  <Schema extends z.ZodType>(schema: Same<AsJson<z.output<Schema>>, AsJson<T>> extends true ? Schema : { readonly 'is not the shape of the type': z.output<Schema> }): Schema =>
    schema as Schema;
