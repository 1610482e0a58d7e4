import { z } from 'zod';
import { nameOfShape, namedShapes } from './named-shapes.js';

/** A part of a description: JSON. */
export type Json = null | boolean | number | string | readonly Json[] | JsonObject;
export interface JsonObject {
  readonly [key: string]: Json;
}

/** Whether what is not described is refused (to check answers by) or may come with later versions (to be read). */
export type Strictness = 'strict' | 'open';

/** Where the named schemas are in a description. */
export const schemasAt = '#/components/schemas/';

/**
 * The JSON Schema of what is sent to the server. What a type cannot say (a check of its own, a change of the value) is
 * left open.
 */
export const schemaOfInput = (schema: z.ZodType): JsonObject => tidy(z.toJSONSchema(schema, { io: 'input', unrepresentable: 'any' }) as unknown as JsonObject, 'strict', false);

/** The JSON Schema of an answer: a reference where the shape has a name. */
export function schemaOfAnswer(shape: z.ZodType, strictness: Strictness): JsonObject {
  const name = nameOfShape(shape);
  return name === undefined ? convert(shape, strictness) : { $ref: `${schemasAt}${name}` };
}

/** All shapes with a name. */
export const namedSchemas = (strictness: Strictness): JsonObject => Object.fromEntries(Object.entries(namedShapes).map(([name, shape]) => [name, convert(shape, strictness)]));

function convert(shape: z.ZodType, strictness: Strictness): JsonObject {
  const found = z.toJSONSchema(shape, {
    io: 'output', unrepresentable: 'any',
    override: ({ zodSchema, jsonSchema }) => {
      const name = (zodSchema as unknown) === shape ? undefined : nameOfShape(zodSchema);
      if (name === undefined) return;
      for (const key of Object.keys(jsonSchema)) delete (jsonSchema as Record<string, unknown>)[key];
      jsonSchema.$ref = `${schemasAt}${name}`;
    },
  });
  return tidy(found as unknown as JsonObject, strictness, false);
}

/** Keys that say nothing to a reader of the description. */
const untold = ['$schema', '$id', '$defs', 'rule'];

/** @param names whether the keys of `value` are names of fields, and not words of JSON Schema */
function tidy(value: JsonObject, strictness: Strictness, names: boolean): JsonObject {
  // Only JSON of any kind refers to itself.
  if (!names && typeof value['$ref'] === 'string' && value['$ref'].startsWith('#/$defs/')) return {};
  const told = Object.entries(value).filter(([key, said]) => names || !(untold.includes(key) || (strictness === 'open' && key === 'additionalProperties' && said === false)));
  return Object.fromEntries(told.map(([key, said]) => [key, part(said, strictness, !names && key === 'properties')]));
}

function part(value: Json, strictness: Strictness, names: boolean): Json {
  if (isList(value)) return value.map((one) => part(one, strictness, false));
  return typeof value === 'object' && value !== null ? tidy(value, strictness, names) : value;
}

const isList = (value: Json): value is readonly Json[] => Array.isArray(value);
