import type { Thresholds } from '../core/thresholds.js';
import type { PlanLibrary, ShelvedPlan } from '../library/plan-library.js';
import type { Standing, VersionedFile } from '../library/versioned-file.js';
import type { Author } from '../records/add-to-run.js';
import type { PlanInForce } from './setup-answers.js';

/** The plans and thresholds of one bench, and which of them its runs are judged by. */
export interface SetupDesk {
  /** Name of the bench. */
  readonly bench: string;
  readonly library: PlanLibrary;
  readonly thresholds: VersionedFile<Thresholds>;
  /** What the thresholds file says; `null` where there is none, and the standard ones hold. */
  readonly thresholdsNow: Standing<Thresholds> | null;
  /** Whether the thresholds of the file hold, and not the standard ones for want of a file. */
  readonly thresholdsInForce: boolean;
  plan(): PlanInForce;
  /** ms since 1970 when a run was last judged by it; `null` for never. */
  lastUsed(): (plan: ShelvedPlan) => number | null;
  /** The plan for the next run. @throws InputError */
  choose(key: string, author: Author): PlanInForce;
  /** Something was saved: what the runs are judged by may be new. */
  saved(): void;
  /** @throws InputError where thresholds may not be saved, and why */
  checkThresholdsMayBeSaved(): void;
}

