import type { DocumentKind } from '../certificate/certificate-content.js';
import type { DocumentMaker } from '../certificate/document-maker.js';
import type { Verdict } from '../core/outcome.js';
import type { Author } from '../records/add-to-run.js';
import type { AssemblyResult } from '../records/assembly-results.js';
import type { Job } from '../records/job.js';
import type { Entry } from '../records/store.js';

/** Jobs of one bench at this moment. */
export interface JobState {
  /** For the next run; it becomes an entry of that run as it begins. */
  readonly waiting: { readonly job: Job; readonly who: string } | null;
  /** The run that is going on, and its job. */
  readonly present: { readonly run: number; readonly job: Job | null } | null;
  /** The newest run that has a job. */
  readonly last: { readonly run: number; readonly job: Job } | null;
}

/** A run that is over as the page after it shows it. */
export interface RunAbout {
  readonly run: number;
  /** What the pressure showed. */
  readonly verdict: Verdict;
  /** With what a person saw: the worst of the assemblies. */
  readonly result: Verdict;
  readonly job: Job | null;
  readonly assemblies: readonly AssemblyResult[];
  readonly visual: string | null;
  /** Everything said about it, in order. */
  readonly said: readonly { readonly kind: Entry['kind']; readonly who: string; readonly why: string | null; /** ms since 1970 */ readonly wall: number; readonly words: string }[];
  /** Name and version of what it was judged by; `null` without a plan. */
  readonly judgedBy: { readonly plan: string | null; readonly thresholds: string | null };
  /** What the document for it would be, and what is missing in it. */
  readonly document: { readonly kind: DocumentKind; readonly sentence: string; readonly missing: readonly string[] };
}

/** What an operator does before, during and after a run, for one bench. Everything said about a run is appended and sealed. */
export interface OperatorDesk {
  /** Name of the bench. */
  readonly bench: string;
  jobs(): JobState;
  /** For the run that is going on, else for the next one. @throws InputError */
  keyIn(job: Job, author: Author): JobState;
  /** The job of the newest run once more. @throws InputError when there was none */
  sameAgain(author: Author): JobState;
  /** One assembly of a run alone, for the next run. @throws InputError */
  retest(run: number, assembly: string, author: Author): JobState;
  /** Takes a waiting job away. */
  putAside(who: string): JobState;
  /** @throws InputError */
  about(run: number): RunAbout;
  /** Appends something to a run that is over. @throws InputError */
  say(run: number, entry: Entry, author: Author): RunAbout;
  readonly documents: DocumentMaker;
}
