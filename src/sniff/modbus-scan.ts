import type { ModbusTable } from '../../drivers/modbus-values.js';
import type { ModbusAsker, Question } from './modbus-asker.js';
import type { RegisterRange, RegisterSeries } from './registers.js';

/** What a scan needs to know of the world. */
export interface ScanPace {
  /** True when it must end. */
  over(): boolean;
  now(): number;
  wait(seconds: number): Promise<void>;
  tell(text: string): void;
}

/** A slave that answers. */
export interface FoundUnit {
  readonly unitId: number;
  /** Answer to the first question, hex, or the words of its refusal. */
  readonly said: string;
  /** s */
  readonly took: number;
}

/** Registers of one question: small enough for slaves with little memory. */
const atOnce = 32;

/** Asks each unit id for its first register; a refusal is an answer. */
export async function findUnits(asker: ModbusAsker, unitIds: readonly number[], pace: ScanPace): Promise<{ units: FoundUnit[]; stray: number }> {
  const units: FoundUnit[] = [];
  let stray = 0;
  for (const unitId of unitIds) {
    if (pace.over() || asker.ended !== null) break;
    pace.tell(`unit id ${unitId}`);
    const reply = await asker.ask({ unitId, table: 'holding', start: 0, count: 1 });
    if (reply.kind === 'silence') stray += reply.stray;
    // A gateway says for a slave that is not there that it does not answer (exceptions 10 and 11).
    else if (reply.kind === 'content' || reply.refusal.fault !== 'no-answer') {
      units.push({ unitId, took: reply.took, said: reply.kind === 'content' ? Buffer.from(reply.bytes).toString('hex').toUpperCase() : reply.refusal.words });
    }
  }
  return { units, stray };
}

/** The stretches of a table that can be read: what is refused is halved until it is clear which part is not there. */
export async function readable(asker: ModbusAsker, unitId: number, table: ModbusTable, ranges: readonly RegisterRange[], pace: ScanPace): Promise<RegisterRange[]> {
  const found: RegisterRange[] = [];
  const todo = ranges.flatMap(({ from, to }) => pieces(from, to)).reverse();
  let refusals = 0;
  for (let part = todo.pop(); part !== undefined; part = todo.pop()) {
    if (pace.over() || asker.ended !== null) break;
    pace.tell(`unit id ${unitId}: ${table} ${part.from} to ${part.to}`);
    const reply = await asker.ask({ unitId, table, start: part.from, count: part.to - part.from + 1 });
    if (reply.kind === 'content') {
      const last = found.at(-1);
      if (last !== undefined && last.to + 1 === part.from && part.to - last.from < atOnce) found[found.length - 1] = { from: last.from, to: part.to };
      else found.push(part);
      continue;
    }
    // A slave that does not know the function (exception 1) has no such table at all.
    if (reply.kind === 'refusal' && reply.refusal.code === 1) break;
    if (reply.kind === 'silence' && ++refusals >= 3 && found.length === 0) break;
    const middle = Math.floor((part.from + part.to) / 2);
    if (part.from < part.to) todo.push({ from: middle + 1, to: part.to }, { from: part.from, to: middle });
  }
  return found;
}

/** Reads each stretch again and again. @returns what came, and how long an answer takes at most, s */
export async function readRounds(asker: ModbusAsker, stretches: readonly Question[], rounds: number, every: number, pace: ScanPace): Promise<{ series: RegisterSeries[]; slowest: number }> {
  const kept = stretches.map(() => [] as { time: number; bytes: Uint8Array }[]);
  let slowest = 0;
  for (let round = 0; round < rounds && !pace.over() && asker.ended === null; round++) {
    if (round > 0) await pace.wait(every);
    pace.tell(`reading ${round + 1} of ${rounds}`);
    for (const [i, stretch] of stretches.entries()) {
      if (pace.over()) break;
      const reply = await asker.ask(stretch);
      if (reply.kind !== 'content') continue;
      slowest = Math.max(slowest, reply.took);
      kept[i]?.push({ time: pace.now(), bytes: Uint8Array.from(reply.bytes) });
    }
  }
  return { series: stretches.map(({ unitId, table, start, count }, i) => ({ unitId, table, start, count, rounds: kept[i] ?? [] })), slowest };
}

function pieces(from: number, to: number): RegisterRange[] {
  const parts: RegisterRange[] = [];
  for (let start = from; start <= to; start += atOnce) parts.push({ from: start, to: Math.min(to, start + atOnce - 1) });
  return parts;
}
