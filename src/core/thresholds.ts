import { z } from 'zod';
import { InputError, problemsOf } from './problems.js';
import { parseQuantity, quantity, relativePressure, resolve, type QuantityRule, type WrittenRule } from './quantity.js';

const time = (min: number, max: number, meaning: string, example: string) =>
  quantity({ dimension: 'time', min, max, meaning, example });
const share = (min: number, max: number, meaning: string, example: string) =>
  quantity({ dimension: 'fraction', min, max, meaning, example } satisfies QuantityRule);
const height = (meaning: string, example: string) => relativePressure({ maxFraction: 1, maxPressure: 10_000, meaning, example });

/** A slope relative to the test pressure (`0.3 %/min`) or of its own (`0.05 bar/s`); house unit per second. */
export type RelativeRate = { readonly kind: 'fraction'; readonly value: number } | { readonly kind: 'pressure'; readonly value: number };

const slope = (meaning: string, example: string) =>
  z.union([z.string(), z.number()], { error: 'should be a rate with its unit' }).transform((input, context): RelativeRate => {
    const text = String(input).trim();
    const percent = /^([+-]?[\d.]+)\s*%\s*\/\s*(s|min|h)$/.exec(text);
    const value = percent
      ? Number(percent[1]) / 100 / { s: 1, min: 60, h: 3600 }[percent[2] as 's' | 'min' | 'h']
      : parseQuantity(text, 'pressureRate', example);
    if (typeof value === 'string' || !(value > 0 && value < 1e6)) {
      context.addIssue({
        code: 'custom',
        message: typeof value === 'string' ? value : `'${text}' should be a positive rate such as '${example}': ${meaning}`,
      });
      return z.NEVER;
    }
    return { kind: percent ? 'fraction' : 'pressure', value };
  }).meta({ rule: { dimension: 'relativeRate', meaning, example, range: 'more than 0, in % a second or minute, or a pressure rate' } satisfies WrittenRule });

const fraction = (value: number) => ({ kind: 'fraction', value }) as const;

/** How the signal is read. Every number has a default, a unit, a range and a meaning; unknown keys are refused. */
export const thresholdsSchema = z.strictObject({
  thresholds: z.string().trim().min(1).default('standard'),

  glitchWidth: time(0.001, 1, 'an excursion that has come and gone within this is too quick for water in a hose', '25 ms').default(0.025),
  slewLimit: slope('no real pressure pulse rises and returns faster than this', '2000 %/s').default(fraction(20)),
  spikeHeight: height('a real excursion lower than this is not told as a spike', '1 %').default(fraction(0.01)),
  spikeWidth: time(0.001, 10, 'a real excursion that lasts longer than this is not a spike', '250 ms').default(0.25),

  strokeHeight: height('the smallest rise that counts as a pump stroke', '0.15 %').default(fraction(0.0015)),
  quietTime: time(0.5, 600, 'so long without a pump stroke before settling can end', '10 s').default(10),
  settleWindow: time(1, 600, 'the slope is taken over this span', '10 s').default(10),
  settleSlope: slope('the pressure has settled when its slope is smaller', '0.3 %/min').default(fraction(0.003 / 60)),
  settleTimeout: time(1, 7200, 'settling that lasts longer than this leaves the hold undecided', '120 s').default(120),

  breachTime: time(0.01, 600, 'the pressure may be below the minimum for so long', '1 s').default(1),
  topUpHeight: height('a lasting rise during the hold larger than this is a top-up', '0.15 %').default(fraction(0.0015)),
  burstFraction: share(0.02, 0.95, 'a sudden fall larger than this share is a burst', '30 %').default(0.3),
  burstTime: time(0.001, 5, 'a burst falls within this time', '150 ms').default(0.15),
  ventRate: slope('a fall faster than this is a vent, not a leak', '3 %/s').default(fraction(0.03)),
  ventPressure: height('below this the bench counts as vented', '3 %').default(fraction(0.03)),
  attemptPressure: height('a pressurisation that stays below this is purging, not a test', '25 %').default(fraction(0.25)),
  runEnd: time(1, 86_400, 'so long vented ends a run that has cycles left', '60 s').default(60),

  gap: time(0.02, 600, 'a longer silence is a gap (and never less than three sample intervals)', '1 s').default(1),
  zeroLimit: height('the vented reading may be off by so much', '0.5 %').default(fraction(0.005)),
  flatlineTime: time(1, 3600, 'readings that do not move at all for this long are not a live signal', '20 s').default(20),
});

/** Times in s; heights and rates as a fraction of the test pressure or as bar (bar/s). */
export type Thresholds = z.output<typeof thresholdsSchema>;

export const thresholdKeys: readonly string[] = Object.keys(thresholdsSchema.shape);

/** The thresholds that hold when nobody has set any. */
export const standardThresholds: Thresholds = thresholdsSchema.parse({});

/**
 * Checks what was read from a thresholds file; an empty file means the standard ones.
 * @throws InputError that names each wrong field, its value and what would be right.
 */
export function parseThresholds(input: unknown, source: string): Thresholds {
  const found = thresholdsSchema.safeParse(input ?? {});
  if (!found.success) throw new InputError(source, problemsOf(found.error, input, thresholdKeys));
  return found.data;
}

/** Thresholds turned into bar, s and bar/s for one test pressure. */
export interface ReadingLimits {
  readonly glitchWidth: number;
  readonly slewLimit: number;
  readonly spikeHeight: number;
  readonly spikeWidth: number;
  readonly strokeHeight: number;
  readonly quietTime: number;
  readonly settleWindow: number;
  /** bar/s */ readonly settleSlope: number;
  readonly settleTimeout: number;
  readonly breachTime: number;
  readonly topUpHeight: number;
  readonly burstFraction: number;
  readonly burstTime: number;
  /** bar/s */ readonly ventRate: number;
  readonly ventPressure: number;
  readonly attemptPressure: number;
  readonly runEnd: number;
  readonly gap: number;
  readonly zeroLimit: number;
  readonly flatlineTime: number;
}

/** Resolves shares against the test pressure (bar). */
export function readingLimits(t: Thresholds, testPressure: number): ReadingLimits {
  const perSecond = (rate: RelativeRate) => (rate.kind === 'fraction' ? rate.value * testPressure : rate.value);
  const bar = (value: Thresholds['spikeHeight']) => resolve(value, testPressure);
  return {
    glitchWidth: t.glitchWidth,
    slewLimit: perSecond(t.slewLimit),
    spikeHeight: bar(t.spikeHeight),
    spikeWidth: t.spikeWidth,
    strokeHeight: bar(t.strokeHeight),
    quietTime: t.quietTime,
    settleWindow: t.settleWindow,
    settleSlope: perSecond(t.settleSlope),
    settleTimeout: t.settleTimeout,
    breachTime: t.breachTime,
    topUpHeight: bar(t.topUpHeight),
    burstFraction: t.burstFraction,
    burstTime: t.burstTime,
    ventRate: perSecond(t.ventRate),
    ventPressure: bar(t.ventPressure),
    attemptPressure: bar(t.attemptPressure),
    runEnd: t.runEnd,
    gap: t.gap,
    zeroLimit: bar(t.zeroLimit),
    flatlineTime: t.flatlineTime,
  };
}
