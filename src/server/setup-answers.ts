import type { Change } from '../library/difference.js';
import type { FileProblem } from '../library/plan-library.js';
import type { SettingField } from '../library/setting-kind.js';
import type { SavedVersion } from '../library/version-folder.js';

/** A version as lists show it. */
export type VersionInfo = Omit<SavedVersion, 'text'>;

/** A field with what stands in the file. */
export type WrittenField = SettingField & { readonly written: string | null };

/** A plan as lists show it. */
export interface PlanLine {
  readonly key: string;
  readonly name: string;
  readonly sha256: string;
  readonly version: number;
  /** ms since 1970 and who, of the newest version. */
  readonly wall: number;
  readonly who: string;
  /** bar */ readonly testPressure: number;
  /** s */ readonly holdTime: number;
  /** ms since 1970; `null` where no run on record used it. */
  readonly lastUsed: number | null;
  readonly retired: boolean;
  readonly inForce: boolean;
}

/** Which plan the runs are judged by. */
export interface PlanInForce {
  /** The plan of the run that is going on, else of the next one; `null` where there is none, or it is not in the library. */
  readonly inForce: string | null;
  /** Chosen or changed during a run: it holds from the next run on. */
  readonly next: string | null;
  /** A run is going on. */
  readonly running: boolean;
}

export interface PlanList extends PlanInForce {
  readonly plans: readonly PlanLine[];
  /** Files that are not used as they are. */
  readonly problems: readonly FileProblem[];
}

/** A plan, or the thresholds, with everything that a form needs. */
export interface SettingAnswer {
  readonly key: string;
  /** Number of the newest version; 0 where nothing was ever saved. */
  readonly version: number;
  readonly text: string;
  readonly fields: readonly WrittenField[];
  /** Newest first. */
  readonly versions: readonly VersionInfo[];
  readonly retired: boolean;
  /** Runs are judged by it. */
  readonly inForce: boolean;
  /** What is wrong with the file or its versions, one sentence each. */
  readonly problems: readonly string[];
}

export interface DifferenceAnswer {
  readonly from: number;
  readonly to: number;
  readonly changes: readonly Change[];
  /** Nothing means something else, only remarks or notation differ. */
  readonly wordsOnly: boolean;
}

export interface CheckAnswer {
  readonly problems: readonly { readonly place: string; readonly text: string }[];
  readonly text: string;
  readonly fields: readonly WrittenField[];
}

/** Which version a record names by its digest. */
export interface JudgedBy {
  readonly kind: 'plan' | 'thresholds';
  readonly key: string;
  readonly version: VersionInfo;
}
