import type { AuditChoice, AuditEntry, AuditNote } from '../records/audit.js';

/** Who changed what at one bench. */
export interface AuditDesk {
  /** Name of the bench. */
  readonly bench: string;
  /** Writes a change down. @throws InputError for a note that is not well formed */
  note(note: AuditNote): void;
  /** The newest first. @throws InputError while nothing can be read */
  entries(choice: AuditChoice): AuditEntry[];
}
