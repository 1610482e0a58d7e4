import { expect } from 'vitest';
import type { Store } from '../../src/records/store.js';

/** Does to the tables what someone with the file and a database program could do. */
export function tamper(store: Store, sql: string, ...values: unknown[]): void {
  const triggers = store.db.prepare<[], string>("SELECT name FROM sqlite_schema WHERE type = 'trigger'").pluck().all();
  for (const name of triggers) store.db.exec(`DROP TRIGGER ${name}`);
  store.db.pragma('foreign_keys = OFF');
  store.db.pragma('ignore_check_constraints = ON');
  expect(store.db.prepare(sql).run(...values).changes).toBeGreaterThan(0);
}
