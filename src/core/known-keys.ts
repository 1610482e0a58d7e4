import { z } from 'zod';

/** Keys that a schema takes at a path of an input, each once; none where there is no object, or it cannot be told. */
export function keysUnder(schema: z.ZodType, path: readonly PropertyKey[], input: unknown): readonly string[] {
  let [found, value] = [plain(schema, input), input];
  for (const key of path) {
    value = typeof value === 'object' && value !== null ? (value as Record<PropertyKey, unknown>)[key] : undefined;
    found = found.flatMap((one) => inside(one, key, value));
  }
  return [...new Set(found.flatMap((one) => (one instanceof z.ZodObject ? Object.keys(one.shape) : [])))];
}

function inside(schema: z.ZodType, key: PropertyKey, value: unknown): z.ZodType[] {
  if (schema instanceof z.ZodObject) {
    const field = (schema.shape as Record<PropertyKey, z.ZodType | undefined>)[key];
    return field === undefined ? [] : plain(field, value);
  }
  if (schema instanceof z.ZodArray) return plain(schema.element as z.ZodType, value);
  return schema instanceof z.ZodRecord ? plain(schema.valueType as z.ZodType, value) : [];
}

/** The schemas of what a person writes: without defaults, checks and what is made of it; of a union what fits the value's own kind. */
function plain(schema: z.ZodType, value: unknown): z.ZodType[] {
  if (schema instanceof z.ZodPipe) return [schema.in, schema.out].flatMap((part) => plain(part as z.ZodType, value));
  if (schema instanceof z.ZodUnion) {
    const options = schema.options.flatMap((option) => plain(option as z.ZodType, value));
    const meant = options.filter((option) => isNamedBy(option, value));
    return meant.length > 0 ? meant : options;
  }
  if (schema instanceof z.ZodOptional || schema instanceof z.ZodNullable || schema instanceof z.ZodDefault || schema instanceof z.ZodPrefault || schema instanceof z.ZodReadonly) {
    return plain(schema.def.innerType as z.ZodType, value);
  }
  return [schema];
}

/** Whether a field that can have one value only (`driver: tcp-line`) has it. */
const isNamedBy = (schema: z.ZodType, value: unknown): boolean =>
  schema instanceof z.ZodObject && typeof value === 'object' && value !== null &&
  Object.entries(schema.shape).some(([key, field]) => field instanceof z.ZodLiteral && field.values.has((value as Record<string, unknown>)[key] as z.core.util.Literal));
