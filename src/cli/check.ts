import { isAbsolute, relative } from 'node:path';
import { Command } from 'commander';
import { isOwnOnly } from '../access/page-settings.js';
import { parsePeople } from '../access/people.js';
import { readPeople } from '../access/people-file.js';
import { readTls } from '../access/tls-files.js';
import { parseBench } from '../acquisition/bench-file.js';
import { localDay, localZone } from '../acquisition/calibration-due.js';
import { channelKeys, channelSchema } from '../acquisition/channel-config.js';
import { ownLink } from '../acquisition/links.js';
import { suspicionsOf } from '../acquisition/suspicions.js';
import { describeImport } from '../core/import/describe-import.js';
import { importTrace } from '../core/import/import-trace.js';
import { parsePlan } from '../core/plan.js';
import { ProblemGatherer } from '../core/problem-gatherer.js';
import { InputError, problemLine, problemsOf, type Problem } from '../core/problems.js';
import { parseThresholds, standardThresholds } from '../core/thresholds.js';
import { readPlan, readThresholds } from '../daemon/bench-setup.js';
import { signerOfFile } from '../records/key-files.js';
import { waysOf } from '../sinks/alerts/alerts.js';
import { checkPlaces, rangeBelowPlan } from './check-places.js';
import { checkPlans } from './check-plans.js';
import { badInput } from './exit-codes.js';
import { fileKind, type FileKind } from './file-kind.js';
import { importOptionsOf, withImportFlags, type ImportFlags } from './import-flags.js';
import { readBytes } from '../files/input-file.js';
import { readYamlFile, type YamlFile } from '../files/yaml-file.js';

interface Flags extends ImportFlags {
  readonly json?: true;
}

/** What one file came to. */
interface Checked {
  readonly file: string;
  readonly kind: FileKind | 'trace' | null;
  readonly ok: boolean;
  readonly problems: readonly Problem[];
  /** What is possible and looks like a mistake; absent where nothing does. */
  readonly warnings?: readonly Problem[];
  /** How a trace was read, one sentence each. */
  readonly details: readonly string[];
}

/** `check FILE...`: every error of bench, plan, thresholds and trace files, all at once. */
export function checkCommand(): Command {
  const command = new Command('check')
    .description('explain every error in bench, plan, thresholds and trace files; of a bench also in the plans and thresholds that it names')
    .argument('<file...>', 'YAML files of any of these kinds (told apart by their content) and traces (.csv, .tsv, .txt, .dat)')
    .option('--json', 'print what was found as JSON')
    .addHelpText('after', '\nWhat is possible and looks like a mistake is a warning.\nExit code: 0 when all are right, warnings or not; 2 when any is not.\n\nExample:\n  dwellkeeper check bench.yaml plan.yaml thresholds.yaml');
  return withImportFlags(command).action((files: string[], flags: Flags) => {
    const checked = files.map((file) => check(file, flags));
    if (flags.json) console.log(JSON.stringify(checked));
    else checked.forEach(tell);
    if (checked.some(({ ok }) => !ok)) process.exitCode = badInput;
  });
}

const traceName = /\.(csv|tsv|txt|dat)$/i;

function check(file: string, flags: Flags): Checked {
  let kind: Checked['kind'] = traceName.test(file) ? 'trace' : null;
  try {
    if (kind === 'trace') {
      const { report } = importTrace(readBytes(file), file, importOptionsOf(flags));
      return { file, kind, ok: true, problems: [], details: describeImport(report) };
    }
    const yaml = readYamlFile(file);
    kind = fileKind(yaml.value, file);
    yaml.check<unknown>({ bench: checkBench, channel: checkChannel, plan: parsePlan, thresholds: parseThresholds, people: parsePeople }[kind]);
    const warnings = warningsOf(yaml, kind);
    return { file, kind, ok: true, problems: [], ...(warnings.length > 0 && { warnings }), details: kind === 'bench' ? yaml.check(plansIn) : [] };
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return { file, kind, ok: false, problems: error.problems, details: [] };
  }
}

/** A bench file, and the plans, thresholds, keys and secrets that it names. */
function checkBench(value: unknown, source: string): void {
  const bench = parseBench(value, source);
  const { signingKey, alerts, people, page, plan, plans, thresholds } = bench;
  const problems = new ProblemGatherer();
  checkPlaces(bench, source, problems);
  if (plan !== undefined) problems.attempt(() => readPlan(plan));
  if (thresholds !== undefined) problems.attempt(() => readThresholds(thresholds));
  for (const error of checkPlans(plans).errors) {
    problems.attempt(() => {
      // The plan in force may lie in the folder, and is told once.
      if (plan === undefined || error.source !== plan) throw error;
    });
  }
  if (signingKey !== undefined) problems.attempt(() => signerOfFile(signingKey, source, 'signingKey'));
  if (people !== undefined) problems.attempt(() => readPeople(people));
  const { tls } = page;
  if (tls !== undefined) problems.attempt(() => readTls(tls, source, Date.now()));
  if (alerts !== undefined) for (const way of waysOf(alerts, '', source)) problems.attempt(() => way.check());
  if (problems.errors.length > 0) throw new InputError(source, problems.errors.flatMap((error) => error.problems.map((problem) => (error.source === source ? problem : { place: '', text: problemLine(fromHere(error.source), problem) }))));
}

/** A path as somebody in this folder would write it. */
function fromHere(path: string): string {
  const here = relative(process.cwd(), path);
  return isAbsolute(path) && !here.startsWith('..') && !isAbsolute(here) ? here : path;
}

/** How many plans were looked through, in a sentence. */
function plansIn(value: unknown, source: string): string[] {
  const folder = parseBench(value, source).plans;
  const { plans } = checkPlans(folder);
  return plans === 0 ? [] : [`${plans} ${plans === 1 ? 'plan' : 'plans'} in ${fromHere(folder)}, without errors`];
}

/** One channel in a file of its own, as the examples of the drivers are. */
function checkChannel(value: unknown, source: string): void {
  const found = channelSchema.safeParse(value);
  if (!found.success) throw new InputError(source, problemsOf(found.error, value, channelKeys));
}

/** With their lines, by the way that problems get theirs. */
function warningsOf(yaml: YamlFile, kind: FileKind): readonly Problem[] {
  try {
    yaml.check((value, source) => {
      const found = suspiciousIn(value, source, kind);
      if (found.length > 0) throw new InputError(source, found);
    });
    return [];
  } catch (error) {
    if (!(error instanceof InputError)) throw error;
    return error.problems;
  }
}

function suspiciousIn(value: unknown, source: string, kind: FileKind): Problem[] {
  const common = { today: localDay(Date.now(), localZone()), spikeWidth: standardThresholds.spikeWidth };
  if (kind === 'channel') {
    const channel = channelSchema.parse(value);
    return suspicionsOf({ ...common, links: [ownLink(channel)], channels: [{ name: channel.channel, place: '', written: value }] });
  }
  if (kind !== 'bench') return [];
  const bench = parseBench(value, source);
  const { links, channels, page } = bench;
  const written = (value as { readonly channels: readonly unknown[] }).channels;
  const inClear = { place: 'page', text: `what people type, their secrets too, can be read and changed on its way through the network; give a certificate and a key under 'tls'` };
  return [
    ...(isOwnOnly(page.address) || page.tls !== undefined ? [] : [inClear]),
    ...suspicionsOf({ ...common, links, channels: channels.map(({ channel }, i) => ({ name: channel, place: `channels.${i}`, written: written[i] })) }),
    ...(bench.plan === undefined ? [] : rangeBelowPlan(bench, readPlan(bench.plan).value)),
    ...checkPlans(bench.plans).warnings.map(({ file, text }) => ({ place: '', text: `${fromHere(file)}: ${text}` })),
  ];
}

function tell({ file, kind, ok, problems, warnings = [], details }: Checked): void {
  for (const warning of warnings) console.error(`warning: ${problemLine(file, warning)}`);
  if (ok) console.log([`${file}: a ${kind === 'thresholds' || kind === 'people' ? `${kind} file` : kind} without errors`, ...details.map((detail) => `  ${detail}`)].join('\n'));
  else console.error(problems.map((problem) => problemLine(file, problem)).join('\n'));
}
