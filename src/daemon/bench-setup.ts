import { dirname, isAbsolute, join } from 'node:path';
import type { KnownPerson } from '../access/people.js';
import { readPeople } from '../access/people-file.js';
import { readTls, type TlsPair } from '../access/tls-files.js';
import { parseBench, type Bench } from '../acquisition/bench-file.js';
import { readBytes } from '../files/input-file.js';
import { isLost, type LastGood } from '../files/last-good.js';
import { readYamlFile } from '../files/yaml-file.js';
import { decodeText } from '../core/import/decode-text.js';
import { ProblemGatherer } from '../core/problem-gatherer.js';
import { InputError, problemLine } from '../core/problems.js';
import { parsePlan, type Plan } from '../core/plan.js';
import { signerOfFile } from '../records/key-files.js';
import type { Signer } from '../records/seal.js';
import { waysOf } from '../sinks/alerts/alerts.js';
import { parseThresholds, standardThresholds, type Thresholds } from '../core/thresholds.js';

/** A plan or thresholds with the text it was read from. The store gives it its version, the hash of its content. */
export interface Written<T> {
  readonly value: T;
  /** As the person wrote it, comments and all; `null` where nobody did. */
  readonly text: string | null;
}

/** What runs are judged by. */
export interface JudgingSetup {
  readonly plan: Written<Plan> | null;
  readonly thresholds: Written<Thresholds>;
}

/** A bench with everything that its file names. */
export interface BenchFiles extends JudgingSetup {
  readonly bench: Bench;
  /** Signs the records, where the bench file names a key. */
  readonly signer?: Signer;
  /** Who may use the pages; absent: nobody signs in. Empty where the list was lost and no copy is known: then nobody can. */
  readonly people?: readonly KnownPerson[];
  /** Certificate and key of the pages. */
  readonly tls?: TlsPair;
  /** The files that all this was read from. */
  readonly files: readonly string[];
  /** What people must know about them, one sentence each. */
  readonly notices: readonly string[];
}

/** The thresholds that hold when the bench file names none. */
export const standard: Written<Thresholds> = { value: standardThresholds, text: null };

const written = <T>(path: string, parse: (value: unknown, source: string) => T, from: string): Written<T> => ({
  value: readYamlFile(path, from).check(parse),
  text: decodeText(readBytes(from)),
});

/** @param from where its bytes are, when a copy stands in for it. @throws InputError */
export const readPlan = (path: string, from = path): Written<Plan> => written(path, parsePlan, from);

/** @param from where its bytes are, when a copy stands in for it. @throws InputError */
export const readThresholds = (path: string, from = path): Written<Thresholds> => written(path, parseThresholds, from);

/**
 * Reads and checks a bench file and the plan and thresholds that it names. Opens no port and writes nothing.
 * @param lastGood for unattended starts: copies of these files, to take the place of one that a power cut destroyed. Where
 * a plan or thresholds are lost without a copy, runs are recorded without being judged: never by silent defaults
 * @throws InputError with the problems of all the files at once.
 */
export function readBench(path: string, lastGood?: LastGood): BenchFiles {
  const problems = new ProblemGatherer();
  const notices: string[] = [];
  const placeOf = (of: string): string => {
    const copy = lastGood?.insteadOf(of) ?? null;
    if (copy !== null) notices.push(`${of} is missing or empty; its last good copy of ${lastGood?.keptAt(of)} is used until it is put right`);
    return copy ?? of;
  };
  const file = readYamlFile(path, placeOf(path));
  const bench = problems.attempt(() => file.check(parseBench));
  // A bench file with a mistake may still say where the plan is: then its mistakes are told in the same go.
  const named = (key: 'plan' | 'thresholds' | 'people'): string | undefined => {
    const value: unknown = typeof file.value === 'object' && file.value !== null ? (file.value as Record<string, unknown>)[key] : undefined;
    return typeof value === 'string' && value.trim() !== '' ? isAbsolute(value.trim()) ? value.trim() : join(dirname(path), value.trim()) : undefined;
  };
  const planPath = named('plan');
  const thresholdsPath = named('thresholds');
  const lost = lastGood === undefined ? [] : [planPath, thresholdsPath].filter((named) => named !== undefined && isLost(named) && lastGood.insteadOf(named) === null);
  const peoplePath = named('people');
  const peopleLost = peoplePath !== undefined && lastGood !== undefined && isLost(peoplePath) && lastGood.insteadOf(peoplePath) === null;
  if (peopleLost) notices.push(`${peoplePath}: missing or empty, and no good copy is known; nobody can sign in until it is put right`);
  if (lost.length > 0) notices.push(`${lost.join(' and ')}: missing or empty, and no good copy is known; runs are recorded and not judged until it is put right`);
  const plan = planPath === undefined || lost.length > 0 ? null : problems.attempt(() => readPlan(planPath, placeOf(planPath)));
  const thresholds = thresholdsPath === undefined || lost.includes(thresholdsPath) ? standard : problems.attempt(() => readThresholds(thresholdsPath, placeOf(thresholdsPath)));
  const keyPath = bench?.signingKey;
  const signer = keyPath === undefined ? null : problems.attempt(() => signerOfFile(keyPath, path, 'signingKey'));
  const people = peoplePath === undefined ? null : peopleLost ? [] : problems.attempt(() => readPeople(peoplePath, placeOf(peoplePath)));
  const tlsPaths = bench?.page.tls;
  const tls = tlsPaths === undefined ? null : problems.attempt(() => readTls(tlsPaths, path, Date.now(), lastGood !== undefined));
  const { alerts } = bench ?? {};
  if (alerts !== undefined) for (const way of waysOf(alerts, '', path)) problems.attempt(() => way.check());
  if (problems.errors.length > 0 || bench === undefined || plan === undefined || thresholds === undefined || signer === undefined || people === undefined || tls === undefined) throw together(problems.errors);
  const files = [path, planPath, thresholdsPath, peoplePath].filter((named) => named !== undefined);
  return { bench, plan, thresholds, files, notices, ...(signer && { signer }), ...(people && { people }), ...(tls && { tls }) };
}

/** The problems of several files as one error. */
function together(errors: readonly InputError[]): InputError {
  const [only] = errors;
  if (only !== undefined && errors.length === 1) return only;
  return new InputError(
    '',
    errors.flatMap((error) => error.problems.map((problem) => ({ place: '', text: problemLine(error.source, problem) }))),
  );
}
