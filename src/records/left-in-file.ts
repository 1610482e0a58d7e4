import Database from 'better-sqlite3';

/** What a file that is given up still tells. */
export interface LeftInFile {
  /** Last run number, 0 without one. */
  readonly run: number;
  /** Numbers of runs that were open. */
  readonly open: readonly number[];
  readonly seal: string | null;
  readonly audit: string | null;
  /** Choices that outlive the program: plans chosen, jobs that wait. */
  readonly chosen: readonly (readonly [string, string])[];
}
/** For a sentence: how runs are numbered in the file that follows. */
export const wordsOfNumbers = ({ run }: LeftInFile): string => (run > 0 ? `run numbers go on after ${run}` : 'run numbers begin anew');

/** Numbers go on where the old file stopped, as far as it still tells, so that no certificate number is given twice. */
export function goOnAfter(db: Database.Database, left: LeftInFile, before?: string): void {
  const keep = db.prepare<[string, string]>('INSERT OR IGNORE INTO facts (key, value) VALUES (?, ?)');
  if (left.run > 0) keep.run('runs before', String(left.run));
  if (left.seal !== null) keep.run('seal before', left.seal);
  if (left.audit !== null) keep.run('audit seal before', left.audit);
  if (before !== undefined) keep.run('file before', before);
  for (const [key, value] of left.chosen) keep.run(key, value);
}

/** Rows of a query; none where the file does not give them. */
type Reading = (sql: string) => readonly unknown[][];

function readingAt(path: string): Reading {
  return (sql) => {
    try {
      const db = new Database(path, { fileMustExist: true });
      try {
        return reading(db)(sql);
      } finally {
        db.close();
      }
    } catch {
      return [];
    }
  };
}

const reading = (db: Database.Database): Reading => (sql) => {
  try {
    return db.prepare<[], unknown[]>(sql).raw().all();
  } catch {
    return []; // unreadable is what is expected of a damaged file
  }
};

/** The newer of two answers of one file: once it is damaged it tells less than before. */
export const newerOf = (known: LeftInFile, left: LeftInFile): LeftInFile => (left.run < known.run || (left.seal === null && known.seal !== null) ? known : left);

/** What a file that is open still tells. */
export const leftIn = (db: Database.Database): LeftInFile => lastOf(reading(db));

/** What a file at a path still tells. */
export const leftAt = (path: string): LeftInFile => lastOf(readingAt(path));

/** Last run number, last seals and choices of a file, as far as they can still be read. */
function lastOf(read: Reading): LeftInFile {
  const one = (sql: string): unknown => read(sql)[0]?.[0] ?? null;
  const run = Number(one('SELECT max(number) FROM runs') ?? one("SELECT value FROM facts WHERE key = 'runs before'") ?? 0);
  const sealOr = (seal: unknown): string | null => (typeof seal === 'string' && /^[0-9a-f]{64}$/.test(seal) ? seal : null);
  const seal = sealOr(one('SELECT seal FROM ledger ORDER BY number DESC LIMIT 1') ?? one("SELECT value FROM facts WHERE key = 'seal before'"));
  const audit = sealOr(one('SELECT seal FROM audit ORDER BY number DESC LIMIT 1') ?? one("SELECT value FROM facts WHERE key = 'audit seal before'"));
  const chosen = read("SELECT key, value FROM facts WHERE key LIKE 'plan chosen for %' OR key LIKE 'job waiting for %'");
  return {
    run: Number.isSafeInteger(run) && run > 0 ? run : 0,
    open: read("SELECT number FROM runs WHERE state = 'open' ORDER BY number").flatMap(([number]) => (typeof number === 'number' ? [number] : [])),
    seal,
    audit,
    chosen: chosen.flatMap(([key, value]) => (typeof key === 'string' && typeof value === 'string' ? [[key, value] as const] : [])),
  };
}
