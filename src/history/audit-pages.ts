import { verifyAudit } from '../records/verify-audit.js';
import type { AuditEntry } from '../records/audit.js';
import { canonicalJson } from '../records/canonical-json.js';
import { tableCsv } from '../records/export-csv.js';
import { jobSchema } from '../records/job.js';
import type { StoreReader } from '../records/store-reader.js';
import type { AuditChain, AuditKind, AuditPage, ContentChange, ToldEntry } from '../server/audit-answers.js';

/** Which entries are wanted; texts fit anywhere, without regard to case. */
export interface AuditSearch {
  readonly limit: number;
  /** Only those with a smaller number. */
  readonly before?: number | undefined;
  readonly subject?: string | undefined;
  readonly who?: string | undefined;
  readonly kind?: AuditKind | undefined;
  readonly text?: string | undefined;
  /** ms since 1970, both included. */
  readonly from?: number | undefined;
  readonly to?: number | undefined;
}

/** Entries looked at for one answer: it is given by the thread that reads the instrument, which must not be kept. */
const mostLooked = 300;
/** Lines of one table; who needs more takes them by date. */
const mostLines = 20_000;
const mostBreaches = 50;
/** ms that a run may have begun before its job was keyed in, and still be the one it waited for. */
const keyedLate = 120_000;

/** What an entry is about, by its subject. */
export function auditKindOf(subject: string): AuditKind {
  if (subject === 'choice of plan' || subject === 'plan chosen') return 'choice of plan';
  if (subject.startsWith('plan ')) return 'plan';
  if (subject.startsWith('calibration of ')) return 'calibration';
  if (subject.startsWith('channel ')) return 'channel';
  return subject === 'thresholds' || subject === 'job' || subject === 'people' ? subject : 'other';
}

/** A page of entries, the newest first. Looks at a bounded number of them and says where to go on. */
export function auditPage(store: StoreReader, search: AuditSearch): AuditPage {
  const onRecord = store.audit.count();
  const entries: ToldEntry[] = [];
  let looked = 0;
  let before = search.before ?? Number.MAX_SAFE_INTEGER;
  let more = true;
  while (more && entries.length < search.limit && looked < mostLooked) {
    const stride = Math.min(100, mostLooked - looked);
    const rows = store.audit.list({ limit: stride, before, ...(search.subject !== undefined && { subject: search.subject }) });
    more = rows.length === stride;
    for (const entry of rows) {
      if (entries.length === search.limit) {
        more = true;
        break;
      }
      looked++;
      before = entry.number;
      if (search.from !== undefined && entry.wall < search.from) return { entries, before: null, looked, onRecord };
      if (fits(entry, search)) entries.push(toldEntry(store, entry));
    }
  }
  return { entries, before: more && before > 1 ? before : null, looked, onRecord };
}

function fits({ who, subject, what, why, wall, details }: AuditEntry, search: AuditSearch): boolean {
  if (search.kind !== undefined && auditKindOf(subject) !== search.kind) return false;
  if (search.to !== undefined && wall > search.to) return false;
  const has = (text: string, wanted: string | undefined): boolean => wanted === undefined || text.toLowerCase().includes(wanted.toLowerCase());
  const words = (search.text ?? '').split(/\s+/).filter((word) => word !== '');
  const all = words.length === 0 ? '' : [who, subject, what, why ?? '', JSON.stringify(details)].join('\n');
  return has(who, search.who) && words.every((word) => has(all, word));
}

function toldEntry(store: StoreReader, entry: AuditEntry): ToldEntry {
  const kind = auditKindOf(entry.subject);
  return {
    ...entry, kind,
    changes: kind === 'calibration' || kind === 'channel' ? contentChanges(store, entry) : [],
    run: kind === 'job' ? runOfJob(store, entry) : null,
  };
}

/** What of a channel was changed: against the entry before it about the same thing. */
function contentChanges(store: StoreReader, { subject, number, details }: AuditEntry): ContentChange[] {
  const [earlier] = store.audit.list({ subject, before: number, limit: 1 });
  if (earlier === undefined) return [];
  const [from, to] = [leaves(contentIn(earlier.details)), leaves(contentIn(details))];
  return [...new Set([...from.keys(), ...to.keys()])].sort()
    .map((key) => ({ key, from: from.get(key) ?? 'not set', to: to.get(key) ?? 'not set' }))
    .filter((change) => change.from !== change.to);
}

const contentIn = (details: unknown): unknown => (typeof details === 'object' && details !== null && 'content' in details ? details.content : null);

/** Each value with its way to it: `range.upper` is `1000`. */
function leaves(value: unknown, key = '', found = new Map<string, string>()): Map<string, string> {
  if (Array.isArray(value)) value.forEach((one, i) => leaves(one, `${key}.${i + 1}`, found));
  else if (typeof value === 'object' && value !== null) for (const [name, one] of Object.entries(value)) leaves(one, key === '' ? name : `${key}.${name}`, found);
  else if (typeof value === 'string' || typeof value === 'number' || typeof value === 'boolean') found.set(key, String(value));
  return found;
}

/** The run that a job waited for; `null` where it was put aside, changed before, or still waits. */
function runOfJob(store: StoreReader, { number, wall, details }: AuditEntry): number | null {
  const job = jobSchema.safeParse(details);
  if (!job.success) return null;
  const content = canonicalJson({ ...job.data, kind: 'job' });
  const replaced = store.db.prepare<[number], number>("SELECT wall FROM audit WHERE subject = 'job' AND number > ? ORDER BY number LIMIT 1").pluck().get(number) ?? Infinity;
  const runs = store.db.prepare<[number], number>('SELECT number FROM runs WHERE started_wall >= ? ORDER BY started_wall LIMIT 2').pluck().all(wall - keyedLate);
  const taken = store.db.prepare<[number, string, number, number], number>("SELECT run FROM entries WHERE run = ? AND kind = 'job' AND content = ? AND wall >= ? AND wall <= ?").pluck();
  for (const run of runs) {
    const found = taken.get(run, content, wall, replaced);
    if (found !== undefined) return found;
  }
  return null;
}

const header = ['number', 'at', 'who', 'subject', 'what', 'why', 'changes', 'run', 'details'];

/** The found entries for a spreadsheet, one a line; texts that a spreadsheet would run as a formula are made harmless. */
export function auditTable(store: StoreReader, search: Omit<AuditSearch, 'limit' | 'before'>): string {
  return tableCsv(header, tableRows(store, search));
}

function* tableRows(store: StoreReader, search: Omit<AuditSearch, 'limit' | 'before'>): Generator<(string | number | null)[]> {
  let lines = 0;
  for (let before: number | null = Number.MAX_SAFE_INTEGER; before !== null; ) {
    const page: AuditPage = auditPage(store, { ...search, limit: 500, before });
    for (const { number, wall, who, subject, what, why, changes, run, details } of page.entries) {
      if (++lines > mostLines) return;
      yield [number, new Date(wall).toISOString(), who, subject, what, why, changes.map(({ key, from, to }) => `${key}: ${from} -> ${to}`).join('; '), run, details === null ? '' : JSON.stringify(details)];
    }
    before = page.before;
  }
}

/** Whether the entries are as they were sealed, each following the one before it. */
export function auditChain(store: StoreReader): AuditChain {
  const { entries, signed, breaches, lastSeal } = verifyAudit(store, null, null);
  return { entries, signed, lastSeal, breaches: breaches.slice(0, mostBreaches).map(({ sentence }) => sentence), more: Math.max(breaches.length - mostBreaches, 0) };
}
