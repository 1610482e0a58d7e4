import type Database from 'better-sqlite3';
import type { Verdict } from '../core/outcome.js';
import type { Entry } from './entries.js';

/** What to look for; everything given must fit. Words are found from their beginning, without regard to case. */
export interface RunChoice {
  readonly order?: string;
  /** Serial number of an assembly, whole or its beginning; runs that named it before a correction are found too. */
  readonly serial?: string;
  readonly hose?: string;
  /** Name of the plan. */
  readonly plan?: string;
  readonly verdict?: Verdict | 'open';
  readonly bench?: string;
  /** ms since 1970: runs that began from then, up to then (both included). */
  readonly from?: number;
  readonly to?: number;
  /** Words anywhere: job, plan, bench, notes, labels, certificate and run numbers. */
  readonly text?: string;
  /** At most so many, the newest first; default 50. */
  readonly limit?: number;
  /** Only runs with a lower number: for the next page. */
  readonly before?: number;
}

const wordFields = ['order', 'serial', 'hose', 'plan'] as const;
const columns = ['ordered', 'serial', 'hose', 'plan', 'verdict', 'other'] as const;
const columnOf: Readonly<Record<(typeof wordFields)[number], string>> = { order: 'ordered', serial: 'serial', hose: 'hose', plan: 'plan' };

/**
 * Finds runs by what was said about them. The index is made from the tables and never part of a record: losing it loses
 * nothing.
 */
export class RunSearch {
  private readonly put;
  private readonly facts;
  private readonly said;
  private readonly serial;

  constructor(private readonly db: Database.Database) {
    this.put = db.prepare<[number, ...string[]]>(
      `INSERT OR REPLACE INTO run_words (rowid, ${columns.join(', ')}) VALUES (?, ?, ?, ?, ?, ?, ?)`,
    );
    this.facts = db.prepare<[number], { bench: string; verdict: string | null; plan: string | null }>(
      `SELECT bench, verdict, json_extract(versions.content, '$.plan') AS plan FROM runs LEFT JOIN versions ON versions.hash = runs.plan WHERE number = ?`,
    );
    this.said = db.prepare<[number], string>('SELECT content FROM entries WHERE run = ? ORDER BY id').pluck();
    this.serial = db.prepare<[string, number]>('INSERT OR IGNORE INTO serials (serial, run) VALUES (?, ?)');
  }

  /** Brings the index up to date for one run; call in the transaction that changes what is known of it. */
  index(run: number): void {
    const facts = this.facts.get(run);
    if (!facts) return;
    const found: Record<(typeof columns)[number], string[]> = {
      ordered: [], serial: [], hose: [], plan: [facts.plan ?? ''], verdict: [facts.verdict ?? 'open'], other: [facts.bench, String(run)],
    };
    for (const content of this.said.all(run)) {
      const entry = JSON.parse(content) as Entry;
      if (entry.kind === 'job') {
        const { order, hose, assemblies, ...rest } = entry;
        found.ordered.push(order ?? '');
        found.hose.push(hose ?? '');
        found.serial.push(...(assemblies ?? []));
        found.other.push(...wordsOf(rest));
        for (const serial of assemblies ?? []) this.serial.run(plainSerial(serial), run);
      } else if (entry.kind !== 'judged-again') {
        found.other.push(...wordsOf(entry));
      }
    }
    this.put.run(run, ...columns.map((column) => found[column].join('\n')));
  }

  /** Makes the index anew from the tables. */
  rebuild(): void {
    const all = this.db.prepare<[], number>('SELECT number FROM runs ORDER BY number').pluck().all();
    for (const run of all) this.index(run);
  }

  /** Runs that ever named the assembly, in order. Blanks around the serial number and case make no difference. */
  named(serial: string): number[] {
    return this.db.prepare<[string], number>('SELECT run FROM serials WHERE serial = ? ORDER BY run').pluck().all(plainSerial(serial));
  }

  /** Numbers of the runs that fit, the newest first. */
  find(choice: RunChoice): number[] {
    const { bench = null, from = -Infinity, to = Infinity, limit = 50, before = Number.MAX_SAFE_INTEGER } = choice;
    const words = expressionOf(choice);
    const range = this.numbersWithin(from, to);
    const most = Math.min(before - 1, range.last);
    if (words === null) {
      return this.db
        .prepare<[number, number, number, number, string | null, number], number>(
          'SELECT number FROM runs WHERE number BETWEEN ? AND ? AND started_wall BETWEEN ? AND ? AND bench = coalesce(?, bench) ORDER BY number DESC LIMIT ?',
        )
        .pluck()
        .all(range.first, most, from, to, bench, limit);
    }
    return this.db
      .prepare<[string, number, number, number, number, string | null, number], number>(
        `SELECT run_words.rowid FROM run_words CROSS JOIN runs ON runs.number = run_words.rowid
           WHERE run_words MATCH ? AND run_words.rowid BETWEEN ? AND ? AND started_wall BETWEEN ? AND ? AND bench = coalesce(?, bench)
           ORDER BY run_words.rowid DESC LIMIT ?`,
      )
      .pluck()
      .all(words, range.first, most, from, to, bench, limit);
  }

  /** Lowest and highest number of the runs that began within a time: almost a plain range, as clocks seldom step back. */
  private numbersWithin(from: number, to: number): { first: number; last: number } {
    if (from === -Infinity && to === Infinity) return { first: 0, last: Number.MAX_SAFE_INTEGER };
    const sql = 'SELECT min(number) AS first, max(number) AS last FROM runs INDEXED BY runs_by_wall WHERE started_wall BETWEEN ? AND ?';
    const found = this.db.prepare<[number, number], { first: number | null; last: number | null }>(sql).get(from, to);
    return { first: found?.first ?? 1, last: found?.last ?? 0 };
  }
}

/** Serial numbers are the same whatever the blanks around them and the case. */
export const plainSerial = (serial: string): string => serial.trim().toLowerCase();

/** The question for the full-text index; `null` when no words are asked for. */
function expressionOf(choice: RunChoice): string | null {
  const parts: string[] = [];
  for (const field of wordFields) {
    const wanted = choice[field];
    if (wanted !== undefined && hasWord(wanted)) parts.push(`${columnOf[field]} : ${phrase(wanted)} *`);
  }
  if (choice.verdict !== undefined) parts.push(`verdict : ${phrase(choice.verdict)}`);
  for (const word of (choice.text ?? '').split(/\s+/)) if (hasWord(word)) parts.push(`${phrase(word)} *`);
  return parts.length === 0 ? null : parts.join(' AND ');
}

const hasWord = (text: string): boolean => /[\p{L}\p{N}]/u.test(text);
/** A quoted phrase: nothing in it is read as a word of the query language. */
const phrase = (text: string): string => `"${text.replaceAll('"', '""').replaceAll('\0', ' ')}"`;

/** What people wrote; the kind of an entry is nobody's word. */
const wordsOf = (entry: object): string[] =>
  Object.entries(entry).flatMap(([key, value]: [string, unknown]) => (key === 'kind' ? [] : [typeof value === 'string' ? value : JSON.stringify(value)]));
