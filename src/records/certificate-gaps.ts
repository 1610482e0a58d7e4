/** What is known of a run when its certificate is made. What is not known is left out, `null` or blank. */
export interface CertificateFacts {
  /** Number of the record; unique in the store. */
  readonly record?: number | null;
  readonly job?: JobFacts | null;
  readonly plan?: PlanFacts | null;
  /** The cycles of the outcome, in order. */
  readonly cycles?: readonly MeasuredFacts[] | null;
  readonly verdict?: string | null;
  readonly instrument?: InstrumentFacts | null;
  /** ms since 1970, when the run ended. */
  readonly wall?: number | null;
  /** IANA name of the time zone of the bench. */
  readonly zone?: string | null;
  /** What the operator saw of the assemblies; `not inspected` is an answer. */
  readonly visual?: string | null;
  /** For each assembly which attempt this is, and how the earlier ones ended. */
  readonly attempts?: readonly string[] | null;
  /** Name and version of the program. */
  readonly software?: string | null;
  readonly trace?: { readonly sha256?: string | null; readonly seal?: string | null } | null;
}

export interface JobFacts {
  readonly order?: string | null | undefined;
  readonly customer?: string | null | undefined;
  /** Serial numbers. */
  readonly assemblies?: readonly string[] | null | undefined;
  readonly hose?: string | null | undefined;
  readonly hoseLot?: string | null | undefined;
  readonly fitting?: string | null | undefined;
  readonly operator?: string | null | undefined;
  /** Who answers for the test. */
  readonly responsible?: string | null | undefined;
  readonly medium?: string | null | undefined;
}

export interface PlanFacts {
  readonly plan?: string | null;
  /** bar */ readonly testPressure?: number | null;
  /** s */ readonly holdTime?: number | null;
  /** As the certificate words it: `at most 3 %`, `not below 530 bar`. */
  readonly allowedLoss?: string | null;
  readonly decisionRule?: string | null;
}

/** Pressures in bar; `settled` in s, `null` for a cycle that had no hold. A cycle of an outcome fits as it is. */
export interface MeasuredFacts {
  readonly settled?: number | null;
  readonly holdStartPressure?: number | null;
  readonly holdMinimum?: number | null;
  readonly drop?: number | null;
  readonly peak?: number | null;
}

export interface InstrumentFacts {
  readonly serial?: string | null;
  /** The calibration in force at the run; days such as `2027-03-01`. */
  readonly calibration?: { readonly certificate?: string | null; readonly date?: string | null; readonly due?: string | null } | null;
}

export interface CertificateGaps {
  /** In words, in the order of the certificate. */
  readonly missing: readonly string[];
  /** True when nothing is missing. */
  readonly final: boolean;
  /** `complete`, or `incomplete: instrument serial, order`. */
  readonly sentence: string;
}

type Wanted = readonly [words: string, value: (facts: CertificateFacts) => unknown];

const beforeMeasuring: readonly Wanted[] = [
  ['record number', (f) => f.record],
  ['order', (f) => f.job?.order],
  ['customer', (f) => f.job?.customer],
  ['assembly serials', (f) => f.job?.assemblies],
  ['hose', (f) => f.job?.hose],
  ['hose lot', (f) => f.job?.hoseLot],
  ['end fittings', (f) => f.job?.fitting],
  ['plan', (f) => f.plan?.plan],
  ['required pressure', (f) => f.plan?.testPressure],
  ['hold time', (f) => f.plan?.holdTime],
  ['allowed loss', (f) => f.plan?.allowedLoss],
  ['decision rule', (f) => f.plan?.decisionRule],
  ['verdict', (f) => f.verdict],
  ['measured values', (f) => f.cycles],
];

const afterMeasuring: readonly Wanted[] = [
  ['medium', (f) => f.job?.medium],
  ['instrument serial', (f) => f.instrument?.serial],
  ['calibration certificate', (f) => f.instrument?.calibration?.certificate],
  ['calibration date', (f) => f.instrument?.calibration?.date],
  ['calibration due date', (f) => f.instrument?.calibration?.due],
  ['date and time', (f) => f.wall],
  ['time zone', (f) => f.zone],
  ['operator', (f) => f.job?.operator],
  ['responsible person', (f) => f.job?.responsible],
  ['visual finding', (f) => f.visual],
  ['earlier attempts', (f) => ((f.attempts?.length ?? 0) < (f.job?.assemblies?.length ?? 0) ? null : f.attempts)],
  ['software version', (f) => f.software],
  ['trace checksum', (f) => f.trace?.sha256],
  ['seal', (f) => f.trace?.seal],
];

const ofEachHold: readonly (readonly [words: string, value: (cycle: MeasuredFacts) => unknown])[] = [
  ['pressure at the start of the hold', (c) => c.holdStartPressure],
  ['lowest pressure of the hold', (c) => c.holdMinimum],
  ['loss during the hold', (c) => c.drop],
];

/** Lists what a certificate lacks, so that nothing on it is blank in silence. */
export function certificateGaps(facts: CertificateFacts): CertificateGaps {
  const gapsIn = (wanted: readonly Wanted[]) => wanted.filter(([, value]) => isBlank(value(facts))).map(([words]) => words);
  const missing = [...gapsIn(beforeMeasuring), ...blankSerials(facts), ...unmeasured(facts), ...gapsIn(afterMeasuring)];
  const final = missing.length === 0;
  return { missing, final, sentence: final ? 'complete' : `incomplete: ${missing.join(', ')}` };
}

/** A dash or a question mark typed into a field that must be filled is a blank, too. */
function isBlank(value: unknown): boolean {
  if (typeof value === 'string') return !/[\p{L}\p{N}]/u.test(value);
  if (typeof value === 'number') return !Number.isFinite(value);
  if (Array.isArray(value)) return value.length === 0;
  return value === undefined || value === null;
}

function blankSerials({ job }: CertificateFacts): string[] {
  return (job?.assemblies ?? []).flatMap((serial, i) => (isBlank(serial) ? [`serial of assembly ${i + 1}`] : []));
}

/** A cycle that never came to its hold has nothing measured there and lacks nothing, unless the run has passed. */
function unmeasured({ cycles, verdict }: CertificateFacts): string[] {
  const all = cycles ?? [];
  return all.flatMap((cycle, i) => {
    const held = verdict === 'pass' || !isBlank(cycle.settled);
    const words = held ? ofEachHold.filter(([, value]) => isBlank(value(cycle))).map(([name]) => name) : [];
    if (isBlank(cycle.peak)) words.push('highest pressure');
    return words.map((name) => (all.length > 1 ? `${name} in cycle ${i + 1}` : name));
  });
}
