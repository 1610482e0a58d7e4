import type { Cycle, Finding, FoundEvent, Outcome, Verdict } from '../core/outcome.js';
import type { Paint } from './paint.js';

const words: Readonly<Record<Verdict, string>> = { pass: 'PASS', fail: 'FAIL', inconclusive: 'INCONCLUSIVE' };
const order = { broken: 0, undecided: 1, met: 2 } as const;

const seconds = (value: number | null): string => (value === null ? 'not seen' : `${value.toFixed(2)} s`);
const bar = (value: number | null): string => (value === null ? 'unknown' : `${Number(value.toFixed(2))} bar`);

/** Everything about one run for a person at a terminal: the verdict first, then why. */
export function describeOutcome(outcome: Outcome, paint: Paint): string {
  return [
    verdictLine(outcome, paint),
    '',
    ...[...outcome.findings].sort((a, b) => order[a.outcome] - order[b.outcome]).map((finding) => findingLine(finding, paint)),
    ...outcome.cycles.flatMap((cycle, i) => ['', ...cycleLines(cycle, i, outcome.cycles.length)]),
    ...eventLines(outcome.events),
    ...(outcome.notes.length > 0 ? ['', 'Notes', ...outcome.notes.map((note) => `  ${note}`)] : []),
    ...(outcome.verdict === 'pass'
      ? ['', paint.quiet('This is what the pressure shows. Somebody must still look for leakage and write down what was seen.')]
      : []),
  ].join('\n');
}

function verdictLine({ verdict, plan, thresholds }: Outcome, paint: Paint): string {
  const colour = verdict === 'pass' ? paint.good : verdict === 'fail' ? paint.bad : paint.unsure;
  return `${paint.bold(colour(words[verdict]))}  ${plan === null ? 'no plan' : `plan '${plan}'`}, thresholds '${thresholds}'`;
}

function findingLine({ outcome, rule, sentence, cycle }: Finding, paint: Paint): string {
  const colour = outcome === 'met' ? paint.good : outcome === 'broken' ? paint.bad : paint.unsure;
  return `  ${colour(outcome.padEnd(9))}  ${`${rule}${cycle === undefined ? '' : ` (cycle ${cycle})`}`.padEnd(8)}  ${sentence}`;
}

const holdOf = ({ settled, holdEnd }: Cycle): string => (settled === null ? 'no hold seen' : holdEnd === null ? `hold from ${seconds(settled)}` : `hold ${seconds(settled)} to ${seconds(holdEnd)}`);

function cycleLines(cycle: Cycle, index: number, count: number): string[] {
  const { leak } = cycle;
  return [
    count > 1 ? `Cycle ${index + 1} of ${count}: ${words[cycle.verdict]}` : 'Times and pressures',
    `  first rise ${seconds(cycle.rising)}, reached ${seconds(cycle.reached)}, ${holdOf(cycle)}, vented ${seconds(cycle.vented)}`,
    `  peak ${bar(cycle.peak)}, start of hold ${bar(cycle.holdStartPressure)}, lowest in the hold ${bar(cycle.holdMinimum)}, drop ${bar(cycle.drop)}${cycle.dropPercent === null ? '' : ` (${Number(cycle.dropPercent.toFixed(2))} %)`}`,
    `  ${plural(cycle.strokes, 'pump stroke')}, ${plural(cycle.topUps, 'top-up')}`,
    leak === null
      ? '  no leak fit was possible'
      : `  leak ${leak.rate.toFixed(2)} bar/min (${leakDoubt(leak)}), settling ${leak.settling.toFixed(1)} bar with a time constant of ${leak.timeConstant.toFixed(1)} s`,
  ];
}

/** What is known of the leak, and how well. */
const leakDoubt = ({ lowest, highest, standardError }: NonNullable<Cycle['leak']>): string =>
  lowest === undefined || highest === undefined ? `standard error ${standardError.toFixed(2)}` : `with 95 % ${(highest < 0 ? lowest : Math.max(0, lowest)).toFixed(2)} to ${highest.toFixed(2)}`;

const plural = (count: number, what: string): string => `${count} ${what}${count === 1 ? '' : 's'}`;
const lineLimit = 20;

/** Strokes are only counted; everything else is listed up to a limit that is told. */
function eventLines(events: readonly FoundEvent[]): string[] {
  const worthALine = events.filter(({ kind }) => kind !== 'stroke');
  if (worthALine.length === 0) return [];
  const shown = worthALine.slice(0, lineLimit).map((event) => `  ${seconds(event.at)}  ${event.kind}${eventSize(event)}${event.note === undefined ? '' : `, ${event.note}`}`);
  const left = worthALine.length - shown.length;
  return ['', 'Events', ...shown, ...(left > 0 ? [`  and ${left} more; --json lists them all`] : [])];
}

function eventSize({ height, width, pressure, unclear }: FoundEvent): string {
  return [
    height === undefined ? '' : ` of ${bar(height)}`,
    width === undefined ? '' : `, ${width < 1 ? `${Number((width * 1000).toPrecision(3))} ms` : `${Number(width.toPrecision(3))} s`} long`,
    pressure === undefined ? '' : `, at ${bar(pressure)}`,
    unclear === true ? ', electrical or hydraulic (the sample rate cannot tell)' : '',
  ].join('');
}
