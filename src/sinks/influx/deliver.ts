import type { Answer } from './answer.js';

/** A line that the database will never take. */
export interface Refused {
  readonly line: string;
  /** The server's words. */
  readonly why: string;
}

/** `delivered`: every line is in the database or among the refused. Otherwise the same again later. */
export type Delivery = { readonly kind: 'delivered'; readonly refused: readonly Refused[] } | Exclude<Answer, { kind: 'delivered' | 'refused' | 'too-large' }>;

/**
 * Brings lines into a database. When some are refused for good they are found by halving, so that one bad point costs
 * no other and never stands in the way. What was sent twice on the way is the same point.
 */
export async function deliver(lines: readonly string[], write: (lines: readonly string[]) => Promise<Answer>): Promise<Delivery> {
  if (lines.length === 0) return { kind: 'delivered', refused: [] };
  const answer = await write(lines);
  switch (answer.kind) {
    case 'delivered':
      return { kind: 'delivered', refused: [] };
    case 'refused':
      return lines.length === 1 || answer.dropped === lines.length ? { kind: 'delivered', refused: lines.map((line) => ({ line, why: answer.why })) } : inHalves(lines, write);
    case 'too-large':
      return lines.length === 1 ? { kind: 'delivered', refused: lines.map((line) => ({ line, why: answer.why })) } : inHalves(lines, write);
    default:
      return answer;
  }
}

async function inHalves(lines: readonly string[], write: (lines: readonly string[]) => Promise<Answer>): Promise<Delivery> {
  const middle = Math.ceil(lines.length / 2);
  const first = await deliver(lines.slice(0, middle), write);
  if (first.kind !== 'delivered') return first;
  const second = await deliver(lines.slice(middle), write);
  return second.kind === 'delivered' ? { kind: 'delivered', refused: [...first.refused, ...second.refused] } : second;
}
