import Database from 'better-sqlite3';
import { copyFileSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { InputError } from '../../src/core/problems.js';
import { keygen, signerFrom } from '../../src/records/seal.js';
import { openStore, type Store } from '../../src/records/store.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';

let folder: string;
let path: string;
let now: number;
const keys = keygen();
const open = (options: { readOnly?: boolean } = {}): Store => openStore(path, { software: 'dwellkeeper test', now: () => now, signer: signerFrom(keys.privateKey), ...options }).store;

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'audit-'));
  path = join(folder, 'records.sqlite');
  now = Date.UTC(2027, 2, 1, 9);
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

function filled(): void {
  const store = open();
  store.addAudit({ who: 'E. Lindqvist', subject: 'plan dn12', what: 'version 1', why: 'new hose', details: { version: 1, left: undefined } });
  now += 1000;
  store.addAudit({ who: 'file on disk', subject: 'people', what: 'J. Doe was added as operator' });
  store.addAudit({ who: '=HYPERLINK("x")', subject: 'plan dn12', what: '<img src=x onerror=alert(1)>' });
  store.close();
}

/** The file changed past the program. */
function tamper(sql: string): void {
  const db = new Database(path);
  for (const trigger of ['audit_not_changed', 'audit_not_deleted', 'audit_without_holes']) db.exec(`DROP TRIGGER ${trigger}`);
  db.exec(sql);
  db.close();
}

const verified = (options: Parameters<typeof verifyLedger>[1] = {}) => {
  const store = open({ readOnly: true });
  try {
    return verifyLedger(store, options);
  } finally {
    store.close();
  }
};

describe('entries about changes', () => {
  it('are appended with who, when, what and why, the newest first, by page and by subject', () => {
    filled();
    const store = open({ readOnly: true });
    expect(store.audit.list().map(({ number, who, wall }) => [number, who, wall])).toEqual([[3, '=HYPERLINK("x")', now], [2, 'file on disk', now], [1, 'E. Lindqvist', now - 1000]]);
    expect(store.audit.list({ limit: 1, before: 3 }).map(({ number }) => number)).toEqual([2]);
    expect(store.audit.list({ subject: 'plan dn12' }).map(({ number }) => number)).toEqual([3, 1]);
    expect(store.audit.newest('people')).toMatchObject({ what: 'J. Doe was added as operator', why: null, details: null });
    expect(store.audit.list({ limit: 1, before: 2 })[0]).toMatchObject({ why: 'new hose', details: { version: 1 } });
    store.close();
  });

  it.each([
    [{ who: '', subject: 'people', what: 'x' }],
    [{ who: 'a', subject: 'people', what: 'two\nlines' }],
    [{ who: 'a', subject: '', what: 'x' }],
    [{ who: 'a', subject: 'people', what: 'x', details: 'y'.repeat(20_000) }],
    [{ who: 'a\u202Eb', subject: 'people', what: 'x' }],
  ])('%j is none', (note) => {
    const store = open();
    expect(() => store.addAudit(note)).toThrow(InputError);
    expect(store.audit.list()).toEqual([]);
    store.close();
  });

  it('are sealed, signed and checked', () => {
    filled();
    const { intact, audit } = verified({ publicKey: keys.publicKey });
    expect(intact).toBe(true);
    expect(audit).toMatchObject({ entries: 3, signed: 3 });
    expect(verified({ knownSeal: audit.lastSeal ?? '' }).intact).toBe(true);
    expect(verified({ publicKey: keygen().publicKey }).breaches).toHaveLength(3);
  });

  it.each<[string, string, string]>([
    ['another name', "UPDATE audit SET who = 'somebody' WHERE number = 2", 'audit entry 2: was changed since it was sealed'],
    ['another text', "UPDATE audit SET record = replace(record, 'operator', 'engineer') WHERE number = 2", 'audit entry 2: the entry or its seal was changed'],
    ['one taken out', 'DELETE FROM audit WHERE number = 2', 'audit entry 3: 1 entries before it are missing'],
    ['the first taken out', 'DELETE FROM audit WHERE number = 1', 'audit entry 2: 1 entries before it are missing'],
  ])('%s shows', (_what, sql, sentence) => {
    filled();
    tamper(sql);
    const { intact, breaches } = verified();
    expect(intact).toBe(false);
    expect(breaches.map((breach) => breach.sentence)).toContain(sentence);
  });

  it('one cut off the end shows against a seal kept elsewhere', () => {
    filled();
    const { lastSeal } = verified().audit;
    tamper('DELETE FROM audit WHERE number = 3');
    expect(verified().intact).toBe(true);
    expect(verified({ knownSeal: lastSeal ?? '' }).intact).toBe(false);
  });

  it('cannot be changed through the store itself', () => {
    filled();
    const db = new Database(path);
    expect(() => db.exec("UPDATE audit SET who = 'x'")).toThrow('audit are never changed');
    expect(() => db.exec('DELETE FROM audit')).toThrow('audit are never deleted');
    db.close();
  });
});

describe('a store of before there were such entries', () => {
  /** As an earlier version left it: without the table. */
  function older(): void {
    open().close();
    const db = new Database(path);
    db.exec('DROP TABLE audit');
    db.pragma('user_version = 3');
    db.close();
  }

  it('is read and checked as it is, and brought up to date by the next start', () => {
    older();
    const kept = join(folder, 'kept.sqlite');
    copyFileSync(path, kept);
    expect(verified()).toMatchObject({ intact: true, audit: { entries: 0, lastSeal: null } });
    const reader = open({ readOnly: true });
    expect(reader.audit.list()).toEqual([]);
    reader.close();
    filled();
    expect(verified()).toMatchObject({ intact: true, audit: { entries: 3 } });
  });
});
