import type { FastifyRequest } from 'fastify';
import { z } from 'zod';
import { InputError, problemsOf } from '../core/problems.js';
import { planKinds } from '../plans/plan-for-hose.js';
import { textLine } from '../records/text-line.js';

const number = z.coerce.number().int().min(0).max(999_999);
const wanted = {
  /** The whole text, as YAML; `changes` are made to it where both are given. */
  text: z.string().max(60_000).optional(),
  /** New values of fields as people write them; `null` or an empty text leaves a field out. */
  changes: z.record(z.string().max(60), textLine(500).nullable()).optional(),
};

export const settingRequest = z.object(wanted).refine(({ text, changes }) => text !== undefined || changes !== undefined, { error: 'give text, changes or both' });
export type SettingRequest = z.output<z.ZodObject<typeof wanted>>;
export const saveRequest = z.object({ ...wanted, base: number }).refine(({ text, changes }) => text !== undefined || changes !== undefined, { error: 'give text, changes or both' });
export const backRequest = z.object({ to: number, base: number });
export const retireRequest = z.object({ base: number });
export const createRequest = z.object({ ...wanted, copyOf: z.string().max(200).optional() });
export const checkRequest = z.object({ ...wanted, key: z.string().max(200).optional() });
export const chooseRequest = z.object({ key: z.string().min(1).max(200) });
export const differenceQuery = z.object({ from: number, to: number });
export const findQuery = z.object({ find: z.string().max(200).default(''), retired: z.literal('1').optional() });
export const plansAddress = z.object({ key: z.string().min(1).max(200) });
export const versionAddress = z.object({ version: number });
export const digestAddress = z.object({ sha256: z.string().regex(/^[0-9a-f]{64}$/) });

const line = textLine(200);
export const hoseRequest = z.object({
  hose: line.optional(),
  workingPressure: line.optional(),
  fittingRatings: z.array(line).max(20).default([]),
  kind: z.enum(planKinds).default('proof'),
  hold: line.optional(),
});

/** What a request says, checked. @throws InputError */
export function said<T>(schema: z.ZodType<T>, input: unknown): T {
  const found = schema.safeParse(input ?? {});
  if (!found.success) throw new InputError('', problemsOf(found.error, input, []));
  return found.data;
}

export const body = <T>(schema: z.ZodType<T>, request: FastifyRequest): T => said(schema, request.body);
