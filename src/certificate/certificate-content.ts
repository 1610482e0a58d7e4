import type { Finding, Outcome } from '../core/outcome.js';
import { holdFloor, minimumDuringHold, type Plan } from '../core/plan.js';
import type { Thresholds } from '../core/thresholds.js';
import { attemptSentence, attemptsOf } from '../records/attempts.js';
import { same, type AssemblyResult, type AssemblyVerdict } from '../records/assembly-results.js';
import { certificateGaps, type CertificateGaps } from '../records/certificate-gaps.js';
import { identityOf } from '../records/instrument-identity.js';
import { inputError } from '../core/problems.js';
import { runStory, type RunStory } from '../records/run-story.js';
import type { LedgerRow } from '../records/ledger.js';
import type { StoreReader } from '../records/store-reader.js';
import { visualWords } from '../records/visual-finding.js';
import { contentInBothUnits, unitOfPlan } from './both-units.js';
import { row, type Row } from './content-rows.js';
import { irregularities } from './irregularities.js';
import { localTime } from './local-time.js';
import { allowedLoss, planRows } from './plan-rows.js';
import { plotPoints, type PlotPoints } from './plot-points.js';
import { onRunClock, sentenceOnRunClock } from './run-clock.js';
import { sealCode } from './seal-code.js';
import type { Shop } from './shop.js';

/** What kind of document it is; only the first may be handed over as a certificate. */
export type DocumentKind = 'certificate' | 'provisional' | 'report';

export interface AssemblyLine {
  readonly serial: string;
  readonly result: AssemblyVerdict;
  /** Why, and what a person saw. */
  readonly remark: string;
  readonly attempt: string | null;
}

/** Everything that stands on a certificate, in words; the layout adds nothing and leaves nothing out. */
export interface CertificateContent {
  readonly kind: DocumentKind;
  readonly shop: Shop;
  /** Unique: number of the run and of the newest sealed record that the document rests on. */
  readonly number: string;
  readonly run: number;
  readonly bench: string;
  readonly result: AssemblyVerdict;
  /** Of the one assembly that it is for; `null` for all of the run. */
  readonly assembly: string | null;
  readonly when: string;
  /** ms since 1970: the newest thing that it rests on. */
  readonly wall: number;
  /** Why the result is what it is, the most telling first. */
  readonly reasons: readonly string[];
  readonly gaps: CertificateGaps;
  readonly job: readonly Row[];
  readonly assemblies: readonly AssemblyLine[];
  readonly visual: { readonly statement: string; readonly given: boolean };
  readonly plan: readonly Row[];
  readonly findings: readonly ShownFinding[];
  readonly measured: readonly (readonly Row[])[];
  readonly instrument: readonly Row[];
  readonly versions: readonly Row[];
  readonly irregularities: readonly string[];
  readonly signatures: readonly { readonly role: string; readonly name: string | null }[];
  readonly seal: string;
  /** What the QR code says. */
  readonly code: string;
  readonly plot: PlotContent;
}

/** A finding with its numbers as `judge --json` prints them; uncertainties are rounded to three figures. */
export interface ShownFinding {
  readonly rule: string;
  readonly outcome: Finding['outcome'];
  readonly measured: string;
  readonly limit: string;
  readonly uncertainty: string;
  readonly unit: string;
  readonly at: string;
  readonly sentence: string;
}

/** What is drawn; times in s from the start of the run, pressures in bar. */
export interface PlotContent extends PlotPoints {
  readonly limits: readonly { readonly pressure: number; readonly word: string; readonly dash: readonly number[] }[];
  readonly holds: readonly { readonly from: number; readonly to: number }[];
  readonly events: Outcome['events'];
}

export interface CertificateChoice {
  /** Serial number of the one assembly that it is for. */
  readonly assembly?: string;
}

/**
 * Gathers what a certificate of a run says.
 * @throws InputError when there is no such run, it is going on, or it does not name the assembly
 */
export function certificateContent(store: StoreReader, number: number, shop: Shop, { assembly }: CertificateChoice = {}): CertificateContent {
  const story = runStory(store, number);
  const { run, job, judgement } = story;
  const { outcome } = judgement;
  const shown = resultsFor(story, assembly);
  const only = assembly === undefined ? null : (shown[0]?.serial ?? null);
  const result: AssemblyVerdict = assembly === undefined ? story.result : (shown[0]?.result ?? story.result);
  const plan = planOf(store, judgement.plan);
  const basis = basisOf(store, number);
  const identity = identityOf(run.instrument?.identity);
  const digest = traceDigest(basis.run);
  const { attempts, gaps, kind } = standingOf(store, story, shown, result, shop);
  const content: CertificateContent = {
    kind,
    shop,
    number: `${number}-${basis.newest.number}`,
    run: number,
    bench: run.bench,
    result,
    assembly: only,
    when: `${localTime(run.fromWall, shop.zone)} to ${localTime(run.toWall ?? run.fromWall, shop.zone)} (${shop.zone})`,
    wall: Math.max(run.toWall ?? run.fromWall, ...basedOn(story).map(({ wall }) => wall)),
    reasons: reasonsOf(story, shown, result),
    gaps,
    job: jobRows(story),
    assemblies: shown.map((line) => assemblyLine(line, attempts, story)),
    visual: visualStatement(story, shop.zone),
    plan: plan === null ? [row('Plan', null)] : planRows(plan),
    findings: outcome.findings.map((finding) => shownFinding(finding, run.from, run.to ?? run.from)),
    measured: outcome.cycles.map((cycle) => cycleRows(cycle, run.from)),
    instrument: [
      row('Transducer', identity?.serial ?? run.instrument?.identity),
      row('Calibration certificate', identity?.certificate),
      row('Calibrated', identity?.date),
      row('Calibration due', identity === null ? null : `${identity.due}${run.instrument?.calibrationOverdue === true ? ' (overdue at this run)' : ''}`),
      ...rangeRows(run.instrument),
    ],
    versions: versionRows(store, story, digest, basis.newest),
    irregularities: irregularities(story, store.traces.marks(run.channel, run.from, run.to ?? run.from, run.received), shop.zone),
    signatures: [{ role: 'Tested by', name: job?.operator ?? null }, { role: 'Released by', name: job?.responsible ?? null }],
    seal: basis.newest.seal,
    code: sealCode({ run: number, seal: basis.newest.seal }),
    plot: {
      ...plotPoints(store, run, outcome.signal.samples, outcome.signal.interval),
      limits: plan === null ? [] : limitsOf(plan),
      holds: outcome.cycles.flatMap(({ settled, holdEnd }) => (settled === null || holdEnd === null ? [] : [{ from: settled - run.from, to: holdEnd - run.from }])),
      events: outcome.events.map((event) => ({ ...event, at: event.at - run.from })),
    },
  };
  return contentInBothUnits(content, shop.unit ?? unitOfPlan(store, judgement.plan));
}

/** What a document for a run would be, and what is missing in it. */
export interface Standing {
  readonly kind: DocumentKind;
  readonly gaps: CertificateGaps;
}

/** The same as the document would say, without reading the trace. @throws InputError as `certificateContent` does */
export function certificateStanding(store: StoreReader, number: number, shop: Pick<Shop, 'zone'>): Standing {
  const story = runStory(store, number);
  const { kind, gaps } = standingOf(store, story, story.assemblies, story.result, shop);
  return { kind, gaps };
}

function standingOf(store: StoreReader, story: RunStory, shown: readonly AssemblyResult[], result: AssemblyVerdict, shop: Pick<Shop, 'zone'>): Standing & { readonly attempts: ReadonlyMap<string, string | null> } {
  const { run, job, visual, judgement } = story;
  const serials = shown.flatMap(({ serial }) => serial ?? []);
  const attempts = new Map(serials.map((serial) => [serial, attemptSentence(attemptsOf(store, serial), run.number)] as const));
  const plan = planOf(store, judgement.plan);
  const basis = basisOf(store, run.number);
  const identity = identityOf(run.instrument?.identity);
  const gaps = certificateGaps({
    record: run.number,
    job: job === null ? null : { ...job, assemblies: serials },
    plan: plan === null ? null : { ...plan, allowedLoss: allowedLoss(plan) },
    cycles: judgement.outcome.cycles,
    verdict: judgement.outcome.verdict,
    instrument: identity === null ? null : { serial: identity.serial, calibration: identity },
    wall: run.toWall,
    zone: shop.zone,
    visual: visual === null ? null : visualWords(visual),
    attempts: [...attempts.values()].filter((sentence) => sentence !== null),
    software: run.software,
    trace: { sha256: traceDigest(basis.run), seal: basis.newest.seal },
  });
  return { attempts, gaps, kind: result !== 'pass' ? 'report' : gaps.final ? 'certificate' : 'provisional' };
}

function resultsFor({ assemblies, run }: RunStory, wanted: string | undefined): readonly AssemblyResult[] {
  if (wanted === undefined) return assemblies;
  const found = assemblies.filter(({ serial }) => serial !== null && same(serial, wanted));
  if (found.length === 0) throw inputError(`run ${run.number}`, 'assembly', `'${wanted}' is not on it; it names ${assemblies.flatMap(({ serial }) => serial ?? []).join(', ') || 'no assembly'}`);
  return found;
}

const planOf = (store: StoreReader, hash: string | null): Plan | null => (hash === null ? null : ((store.versions.get(hash)?.content as Plan | undefined) ?? null));

/** Entries that change what a certificate says. */
const basedOn = ({ entries }: Pick<RunStory, 'entries'>) => entries.filter(({ entry }) => entry.kind !== 'certificate' && entry.kind !== 'label' && entry.kind !== 'trace-removed');

/** The sealed record of the run and the newest sealed thing that its certificate rests on. */
function basisOf(store: StoreReader, number: number): { run: LedgerRow; newest: LedgerRow } {
  const counted = new Set(basedOn({ entries: store.entriesOf(number) }).map(({ id }) => id));
  const rows = store.ledger.of(number).filter(({ entry }) => entry === null || counted.has(entry));
  const run = rows.find(({ entry }) => entry === null);
  const newest = rows.at(-1);
  if (run === undefined || newest === undefined) throw inputError(`run ${number}`, '', 'has no sealed record; check the store with verify');
  return { run, newest };
}

function traceDigest({ record }: LedgerRow): string | null {
  const { trace } = JSON.parse(record) as { trace?: { sha256?: string } };
  return trace?.sha256 ?? null;
}

function reasonsOf({ run, judgement }: RunStory, shown: readonly AssemblyResult[], result: AssemblyVerdict): string[] {
  const { outcome } = judgement;
  const to = run.to ?? run.from;
  const said = (wanted: Finding['outcome']) => outcome.findings.filter((finding) => finding.outcome === wanted).map(({ sentence }) => sentenceOnRunClock(sentence, run.from, to));
  const seen = [...new Set(shown.flatMap(({ serial, reason, leak }) => (reason === null ? [] : [`${serial === null ? '' : `${serial}: `}${reason}${leak === null || leak === '' ? '' : ` at ${leak}`}.`])))];
  if (result === 'pass') return ['The pressure was reached, settled, and was held within the limits of the plan.'];
  const measured = [...said('broken'), ...said('undecided')];
  return [...(seen.length > 3 ? seen.slice(0, 1) : seen), ...measured];
}

function jobRows({ job }: RunStory): Row[] {
  return [
    row('Order', job?.order), row('Customer', job?.customer), row('Hose', job?.hose), row('Hose lot', job?.hoseLot), row('End fittings', job?.fitting),
    row('Medium', job?.medium), row('Operator', job?.operator), row('Responsible', job?.responsible),
    ...(job?.temperature === undefined ? [] : [row('Temperature', job.temperature)]),
    ...(job?.retestOf === undefined ? [] : [row('Retest of', `run ${job.retestOf}`)]),
    ...(job?.remark === undefined ? [] : [row('Remark', job.remark)]),
  ];
}

function assemblyLine({ serial, result, reason, leak }: AssemblyResult, attempts: ReadonlyMap<string, string | null>, { visual }: RunStory): AssemblyLine {
  const seen = visual === null ? 'no visual finding' : leak !== null ? `leakage seen${leak === '' ? '' : `: ${leak}`}` : visual.finding === 'leakage seen' ? 'no leakage named on it' : visual.finding;
  return { serial: serial ?? 'not named', result, remark: reason === null || leak !== null ? seen : `${seen}; ${reason}`, attempt: serial === null ? null : (attempts.get(serial) ?? null) };
}

function visualStatement({ visuals }: RunStory, zone: string): CertificateContent['visual'] {
  const newest = visuals.at(-1);
  if (newest === undefined) {
    return { given: false, statement: 'There is no visual finding: nobody has stated whether leakage was seen. The pressure alone does not show a weep.' };
  }
  return { given: true, statement: `${visualWords(newest.entry)}. Stated by ${newest.who}, ${localTime(newest.wall, zone)}.` };
}

const blankable = (value: number | null): string => (value === null ? '' : String(value));

function shownFinding({ rule, outcome, measured, limit, uncertainty, unit, at, sentence, cycle }: Finding, from: number, to: number): ShownFinding {
  return {
    rule: cycle === undefined ? rule : `${rule} (cycle ${cycle})`,
    outcome,
    measured: blankable(measured),
    limit: blankable(limit),
    uncertainty: uncertainty === null ? '' : `± ${Number(uncertainty.toPrecision(3))}`,
    unit: measured === null && limit === null ? '' : unit,
    at: onRunClock(at, from) ?? '',
    sentence: sentenceOnRunClock(sentence, from, to),
  };
}

function cycleRows(cycle: Outcome['cycles'][number], from: number): Row[] {
  const { leak } = cycle;
  const bar = (value: number | null) => (value === null ? null : `${value} bar`);
  return [
    row('Highest', bar(cycle.peak)),
    row('Start of hold', bar(cycle.holdStartPressure)),
    row('Lowest in hold', bar(cycle.holdMinimum)),
    row('Loss in hold', cycle.drop === null ? null : `${cycle.drop} bar${cycle.dropPercent === null ? '' : ` (${cycle.dropPercent} %)`}`),
    row('Hold from, to', cycle.settled === null ? null : `${onRunClock(cycle.settled, from)}, ${onRunClock(cycle.holdEnd, from) ?? 'not seen'}`),
    row('Steady loss', leak === null ? null : `${Number(leak.rate.toPrecision(3))} bar/min, ${leakDoubt(leak)}`),
    row('Strokes, top-ups', `${cycle.strokes}, ${cycle.topUps}`),
  ];
}

/** How well the leak is known; a settling too slow to be seen may be part of it, but nothing is gained. */
function leakDoubt({ lowest, highest, standardError }: NonNullable<Outcome['cycles'][number]['leak']>): string {
  if (lowest === undefined || highest === undefined) return `standard error ${Number(standardError.toPrecision(2))}`;
  return `with 95 % from ${Number((highest < 0 ? lowest : Math.max(0, lowest)).toPrecision(2))} bar/min to ${Number(highest.toPrecision(2))} bar/min`;
}

function rangeRows(instrument: RunStory['run']['instrument']): Row[] {
  const { range, accuracyClass, resolution, calibrationUncertainty } = instrument ?? {};
  return [
    ...(range === undefined ? [] : [row('Range', `${range.lower} to ${range.upper} bar`)]),
    ...(accuracyClass === undefined ? [] : [row('Accuracy class', `${accuracyClass} % of span`)]),
    ...(resolution === undefined ? [] : [row('Resolution', `${resolution} bar`)]),
    ...(calibrationUncertainty === undefined ? [] : [row('Uncertainty of calibration', `${calibrationUncertainty} bar (standard)`)]),
  ];
}

function versionRows(store: StoreReader, { run, judgement }: RunStory, digest: string | null, newest: LedgerRow): Row[] {
  const thresholds = store.versions.get(judgement.thresholds)?.content as Thresholds | undefined;
  const { samples, interval, missing } = judgement.outcome.signal;
  return [
    row('Software', run.software),
    row('Readings', `${samples}${interval === null ? '' : `, one every ${Number(interval.toPrecision(3))} s`}${missing === 0 ? '' : `, ${missing} missing`}`),
    row('Plan version', judgement.plan),
    row(`Thresholds '${thresholds?.thresholds ?? judgement.outcome.thresholds}' version`, judgement.thresholds),
    row('Checksum of the trace (SHA-256)', digest),
    row(`Seal of record ${newest.number}`, newest.seal),
    ...(newest.signer === null ? [] : [row('Signed by key', newest.signer)]),
  ];
}

function limitsOf(plan: Plan): PlotContent['limits'] {
  const minimum = minimumDuringHold(plan) ?? holdFloor(plan);
  return [
    ...(plan.ceilingPressure === undefined ? [] : [{ pressure: plan.ceilingPressure, word: 'ceiling', dash: [] }]),
    { pressure: plan.testPressure, word: 'required', dash: [6, 3] },
    { pressure: minimum, word: minimumDuringHold(plan) === undefined ? 'hold begins from here' : 'minimum in the hold', dash: [2, 3] },
  ];
}
