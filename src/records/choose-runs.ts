import type { StoreReader } from './store-reader.js';

/** Which runs are meant; all that are over where nothing is said. */
export interface RunChoice {
  /** Numbers, first and last of each range. */
  readonly numbers?: readonly (readonly [number, number])[];
  /** Order number of the newest job entry; blanks around it and capital or small letters make no difference. */
  readonly order?: string;
  /** ms since 1970: a run that began at or after it, and before `until`. */
  readonly since?: number;
  readonly until?: number;
}

/** Numbers of the runs that are over and meant, in their order; read a few at a time. */
export function* chooseRuns(store: StoreReader, choice: RunChoice): Generator<number> {
  const page = store.db.prepare<[number, number, number], number>(
    `SELECT number FROM runs WHERE state <> 'open' AND number > ? AND started_wall >= ? AND started_wall < ? ORDER BY number LIMIT 500`,
  ).pluck();
  for (let last = -1; ; ) {
    const numbers = page.all(last, choice.since ?? -Infinity, choice.until ?? Infinity);
    for (const number of numbers) if (isMeant(store, choice, number)) yield number;
    const end = numbers.at(-1);
    if (end === undefined) return;
    last = end;
  }
}

function isMeant(store: StoreReader, { numbers, order }: RunChoice, number: number): boolean {
  if (numbers !== undefined && !numbers.some(([from, to]) => number >= from && number <= to)) return false;
  return order === undefined || plain(jobOf(store, number)?.order ?? '') === plain(order);
}

const plain = (text: string) => text.trim().toLowerCase();

/** The job of a run as its newest entry has it; `null` where there is none. */
export function jobOf(store: StoreReader, run: number) {
  const entry = store.entriesOf(run).findLast((appended) => appended.entry.kind === 'job')?.entry;
  return entry?.kind === 'job' ? entry : null;
}
