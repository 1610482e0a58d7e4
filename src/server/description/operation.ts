import type { z } from 'zod';

/** What comes back: JSON of a shape, or something else of a media type. */
export interface Reply {
  readonly words: string;
  /** Of JSON, or of each line where `type` is `application/x-ndjson`; without it nothing is said of the content. */
  readonly shape?: z.ZodType;
  /** Media type; `application/json` where there is a shape. */
  readonly type?: string;
}

/** One route as the description tells it. What it needs of a role, the route itself says. */
export interface Operation {
  /** Group under which it is listed. */
  readonly area: Area;
  /** One line. */
  readonly does: string;
  /** More of it. */
  readonly more?: string;
  /** Checks of what stands in the address between slashes, by name, beyond `bench`. */
  readonly params?: Readonly<Record<string, z.ZodType>>;
  /** What the query may say: the schema that checks it. */
  readonly query?: z.ZodType;
  /** Keys of that schema that the query does not carry: the address does, or the route sets them. */
  readonly without?: readonly string[];
  readonly body?: z.ZodType;
  readonly answers: Readonly<Record<number, Reply>>;
}

export const areas = {
  'Who is there': 'Signing in and out at a bench for which people are set up.',
  'The bench now': 'Which benches there are, how they are, what is going on.',
  'Jobs and runs': 'The job of the present or next run, and what is said of runs that are over. Entries are only ever added.',
  Documents: 'Certificates, labels, records and traces as files.',
  'Plans and thresholds': 'What runs are judged by, in versions.',
  'Runs on record': 'Runs that are over: found, looked at, counted.',
  Tuning: 'Recorded runs judged again by something else, and what an engineer knows of them. Nothing is changed but labels, which are added.',
  'Who changed what': 'Changes of plans, thresholds, channels, people: appended and sealed, never edited.',
  'Watching over it': 'For programs that watch over the daemon.',
  Pages: 'The pages themselves and this description.',
} as const;
export type Area = keyof typeof areas;

/** Operations by method and address, as the routes are made: `GET /api/benches/:bench/runs`. */
export type Operations = Readonly<Record<string, Operation>>;
