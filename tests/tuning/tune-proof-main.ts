/**
 * Whether tuning recovers good thresholds: `npm run tune-proof -- [--seeds N] [--jobs N] [--without-standard]`. Every other
 * family of the truth table is tuned on; new runs of these families and runs of the families never seen are then judged by
 * what came of it. With `--without-standard` the standard values are not tried all at once. Exit code 1 where that does
 * worse than the aims of the truth table, or than the standard thresholds where these do not reach them.
 */
import { availableParallelism } from 'node:os';
import { writtenThresholds } from '../../src/tuning/written-thresholds.js';
import { listScenarios, runScenario } from '../../simulators/run-scenario.js';
import { figuresOf, type Figures } from '../../simulators/truth-table/table.js';
import { proofOfTuning, type Part } from './proof-of-tuning.js';

const option = (name: string, otherwise: number): number => {
  const i = process.argv.indexOf(name);
  return i < 0 ? otherwise : Number(process.argv[i + 1]);
};
const [seeds, jobs] = [option('--seeds', 3), option('--jobs', availableParallelism())];

/** From where tuning begins: wrong in the ways in which people are wrong, towards false fails and towards false passes. */
const starts: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  'too strict': { thresholds: 'too strict', settleSlope: '0.02 %/min', settleTimeout: '20 s', spikeHeight: '0.2 %', topUpHeight: '0.03 %', burstFraction: '4 %' },
  'too lax': { thresholds: 'too lax', settleSlope: '8 %/min', quietTime: '2 s', spikeHeight: '12 %', topUpHeight: '3 %', burstFraction: '80 %' },
};

// Families with thresholds of their own are made for other benches; here one set must suit all.
const families = listScenarios().map(({ name }) => name).filter((name) => runScenario(name, 1).thresholdsText === null);
const [train, others] = [families.filter((_, i) => i % 2 === 0), families.filter((_, i) => i % 2 === 1)];
const span = (from: number): number[] => Array.from({ length: seeds }, (_, i) => from + i);
const unseen: Record<string, Part> = { 'new runs of families tuned on': { families: train, seeds: span(101) }, 'families never seen': { families: others, seeds: span(101) } };

/** Wrong verdicts that are told of each part. */
const most = 10;

const share = (value: number): string => (Number.isNaN(value) ? '–' : `${(100 * value).toFixed(1)} %`);
const ratio = (value: number): string => (Number.isNaN(value) ? '–' : value.toFixed(3));
const line = (what: string, f: Figures): string =>
  `  ${what.padEnd(10)} ${String(f.runs).padStart(4)} runs  false passes ${String(f.falsePasses).padStart(3)}  right ${share(f.right).padStart(7)}  undecidable ok ${share(f.rightElsewhere).padStart(7)}  spikes ${ratio(f.spikeRecall)} / ${ratio(f.spikePrecision)}`;
const least = (value: number, aim: number): boolean => Number.isNaN(value) || value >= aim;

let met = true;
for (const [name, poor] of Object.entries(starts)) {
  const shown = { at: 0 };
  const proof = await proofOfTuning({
    train: { families: train, seeds: span(1) }, unseen, poor, threads: jobs, standard: !process.argv.includes('--without-standard'),
    progress: (what, done, total) => {
      if (process.stderr.isTTY !== true || performance.now() - shown.at < 500) return;
      shown.at = performance.now();
      process.stderr.write(`\r\u001b[K${name}, ${what}: ${done} of ${total}`);
    },
  });
  if (process.stderr.isTTY) process.stderr.write('\r\u001b[K');
  const { report } = proof;
  const { leaking, sound, untold, realSpikes, falseSpikes } = report.labelled;
  console.log(`From '${name}', tuned on ${leaking} leaking and ${sound} sound runs and ${untold} that cannot tell, of ${train.length} families, ${realSpikes} real spikes and ${falseSpikes} that are none:`);
  for (const { key, present, proposed, reason } of report.proposals) console.log(`  ${key.padEnd(14)} ${present.padStart(10)} -> ${proposed.padEnd(10)} ${reason}`);
  console.log(`  cost on these ${report.present.cost.toFixed(1)} -> ${report.proposed.cost.toFixed(1)}; thresholds ${JSON.stringify(writtenThresholds(report.thresholds))}`);
  for (const { part, poor: before, tuned, good, runs } of proof.unseen) {
    console.log(` ${part}:`);
    for (const [what, figures] of [['before', before], ['tuned', tuned], ['standard', good]] as const) console.log(line(what, figures));
    const wrong = runs.tuned.filter((one) => one.falsePass || (one.decidable && !one.right));
    for (const run of wrong.slice(0, most)) console.log(`    wrong: ${run.name}: ${run.verdict}, true ${run.truth}; ${run.said}`);
    if (wrong.length > most) console.log(`    and ${wrong.length - most} more`);
    for (const { name: run, spikes } of runs.tuned.filter((one) => one.spikes.missed + one.spikes.false > 0)) console.log(`    spikes: ${run}: ${spikes.missed} missed, ${spikes.false} told that are none`);
  }
  const [tuned, good] = [figuresOf(proof.unseen.flatMap(({ runs }) => runs.tuned)), figuresOf(proof.unseen.flatMap(({ runs }) => runs.good))];
  console.log(` all of it:\n${line('tuned', tuned)}\n${line('standard', good)}`);
  // No false pass; and the aims of the truth table, 99.5 % right where the truth is decidable and spikes 0.99 both ways, or
  // as much of them as the standard thresholds reach on these very runs.
  const reached = (key: 'right' | 'spikeRecall' | 'spikePrecision', aim: number): boolean => least(tuned[key], Math.min(aim, Number.isNaN(good[key]) ? aim : good[key]));
  if (tuned.falsePasses > 0 || !reached('right', 0.995) || !reached('spikeRecall', 0.99) || !reached('spikePrecision', 0.99)) met = false;
}
console.log(met ? 'Met on runs that were not seen.' : 'NOT met on runs that were not seen.');
process.exitCode = met ? 0 : 1;
