import { z } from 'zod';

/** bytes in one unit; disks and files are counted in powers of ten. */
const sizes: Readonly<Record<string, number>> = { kB: 1e3, MB: 1e6, GB: 1e9, TB: 1e12 };
/** s in one unit. */
const ages: Readonly<Record<string, number>> = { h: 3600, d: 86_400, day: 86_400, days: 86_400, weeks: 604_800, years: 365.25 * 86_400 };

interface Amount {
  readonly units: Readonly<Record<string, number>>;
  readonly min: number;
  readonly max: number;
  /** What would be right: `a size from 1 MB to 1000 TB, for example '500 MB'`. */
  readonly right: string;
}

const amount = ({ units, min, max, right }: Amount) =>
  z.union([z.string(), z.number()], { error: `should be ${right}` }).transform((written, context) => {
    const match = /^(\d+(?:\.\d+)?)\s*([A-Za-z]+)$/.exec(String(written).trim());
    const value = Number(match?.[1]) * (units[match?.[2] ?? ''] ?? NaN);
    if (value >= min && value <= max) return value;
    context.addIssue({ code: 'custom', message: `'${written}' should be ${right}` });
    return z.NEVER;
  });

const size = amount({ units: sizes, min: 1e6, max: 1e15, right: `a size from 1 MB to 1000 TB in kB, MB, GB or TB, for example '2 GB'` });
const age = amount({ units: ages, min: 3600, max: 200 * 365.25 * 86_400, right: `an age from 1 h to 200 years in h, days, weeks or years, for example '90 days'` });

/** Section `disk` of a bench file: when to warn, and what may be given up to keep room. Without it nothing is ever given up. */
export const diskSchema = z.strictObject({
  /** bytes; people are warned when less is free where the store lies. */
  warnBelow: size.default(1e9),
  /** s; traces outside runs are removed once they are older. */
  keepIdle: age.optional(),
  /** s; the traces of sealed runs are removed once they are older. Their records, verdicts and seals stay. */
  keepRuns: age.optional(),
  /** bytes; above it the oldest traces outside runs are removed, then (with `keepRuns` only) those of old runs. */
  storeAtMost: size.optional(),
});

export type DiskSettings = z.output<typeof diskSchema>;

export const diskKeys: readonly string[] = Object.keys(diskSchema.shape);
