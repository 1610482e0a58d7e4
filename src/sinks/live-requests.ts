import { z } from 'zod';
import type { PageMessage } from './live-protocol.js';

const pageMessage: z.ZodType<PageMessage> = z.discriminatedUnion('kind', [
  z.strictObject({
    kind: z.literal('follow'),
    session: z.string().max(100),
    after: z.int().min(-1).nullable(),
  }),
  z.strictObject({ kind: z.literal('heartbeat'), at: z.number().min(0) }),
]);

/** What a page asked for; `null` for anything that is not exactly a message of the protocol. */
export function readPageMessage(text: string): PageMessage | null {
  let value: unknown;
  try {
    value = JSON.parse(text);
  } catch {
    return null;
  }
  return pageMessage.safeParse(value).data ?? null;
}
