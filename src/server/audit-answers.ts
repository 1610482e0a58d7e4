import type { AuditEntry } from '../records/audit.js';

/** What an entry about a change can be about. */
export const auditKinds = ['plan', 'choice of plan', 'thresholds', 'calibration', 'channel', 'job', 'people', 'other'] as const;
export type AuditKind = (typeof auditKinds)[number];

/** One value that was changed, as text. */
export interface ContentChange {
  /** `range.upper` */
  readonly key: string;
  readonly from: string;
  readonly to: string;
}

/** An entry with what else is known about it. */
export interface ToldEntry extends AuditEntry {
  readonly kind: AuditKind;
  /** Of a channel or a calibration: what differs from the entry before. Plans and thresholds have their versions. */
  readonly changes: readonly ContentChange[];
  /** Of a job: the run that it waited for. */
  readonly run: number | null;
}

export interface AuditPage {
  /** The newest first. */
  readonly entries: readonly ToldEntry[];
  /** Entries from here down were not looked at yet; `null` when all were. */
  readonly before: number | null;
  /** Entries looked at for this answer. */
  readonly looked: number;
  /** Entries on record, all together. */
  readonly onRecord: number;
}

/** What came of checking the chain of entries. */
export interface AuditChain {
  readonly entries: number;
  readonly signed: number;
  /** `null` where there is no entry. */
  readonly lastSeal: string | null;
  /** The first of what is not as it was sealed, a sentence each; empty where the chain is whole. */
  readonly breaches: readonly string[];
  /** Breaches beyond those. */
  readonly more: number;
}
