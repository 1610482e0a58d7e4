import { InputError, inputError } from '../core/problems.js';
import { auditPage, type AuditSearch } from '../history/audit-pages.js';
import type { AuditEntry, AuditNote } from '../records/audit.js';
import type { Store } from '../records/store.js';
import type { AuditPage } from '../server/audit-answers.js';
import type { AuditDesk } from '../server/audit-desk.js';

/** What the trail needs of its bench. */
export interface TrailBench {
  readonly name: string;
  /** `null` while the daemon is not running. */
  readonly records: Store | null;
  trouble(error: unknown): void;
}

/** Notes that may wait while the disk refuses. */
const mostWaiting = 1000;

/** Writes down who changed what at one bench. What the disk refuses waits and is tried again. */
export class AuditTrail implements AuditDesk {
  private waiting: AuditNote[] = [];

  constructor(private readonly state: TrailBench) {}

  get bench(): string {
    return this.state.name;
  }

  /** Writes a change down, at once or as soon as the disk takes it. @throws InputError for a note that is not well formed */
  note(note: AuditNote): void {
    this.waiting.push(note);
    this.writeWaiting();
  }

  /** To be called about once a second. */
  poll(): void {
    if (this.waiting.length > 0) this.writeWaiting();
  }

  /** Whether nothing waits: only then is what the store says the newest. */
  get settled(): boolean {
    return this.waiting.length === 0 && this.state.records !== null;
  }

  newest(subject: string): AuditEntry | null {
    return this.state.records?.audit.newest(subject) ?? null;
  }

  page(search: AuditSearch): AuditPage {
    const { records } = this.state;
    if (records === null) throw inputError(this.bench, '', 'is not recording at this moment; try again');
    return auditPage(records, search);
  }

  private writeWaiting(): void {
    const { records } = this.state;
    if (records === null) return;
    while (this.waiting.length > 0) {
      const [first] = this.waiting;
      try {
        if (first !== undefined) records.addAudit(first);
      } catch (error) {
        if (!(error instanceof InputError)) {
          if (this.waiting.length > mostWaiting) this.waiting.shift();
          this.state.trouble(error);
          return;
        }
        this.waiting.shift();
        throw error;
      }
      this.waiting.shift();
    }
  }
}
