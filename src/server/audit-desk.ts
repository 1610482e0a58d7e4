import type { AuditSearch } from '../history/audit-pages.js';
import type { AuditPage } from './audit-answers.js';

/** Who changed what at one bench. */
export interface AuditDesk {
  /** Name of the bench. */
  readonly bench: string;
  /** @throws InputError while nothing can be read */
  page(search: AuditSearch): AuditPage;
}
