import { statSync } from 'node:fs';
import { Argument, Command, InvalidArgumentError, Option } from 'commander';
import { inputError } from '../core/problems.js';
import { accessRefusal, diskRefusal } from '../records/disk-refusal.js';
import { labelsIn, labelRun, spikeLabels, truthLabels, type SpikeLabel, type TruthLabel } from '../records/run-labels.js';
import { openStore } from '../records/store.js';
import { software } from './program.js';

interface Flags {
  readonly at?: number;
  readonly who: string;
  readonly why?: string;
  readonly json?: true;
}

const seconds = (text: string): number => {
  const value = Number(text.replace(/\s*s$/, ''));
  if (!Number.isFinite(value)) throw new InvalidArgumentError("It should be a time in s on the clock of the trace, for example '93.2'.");
  return value;
};

/** `label STORE RUN 'truly leaking' --who NAME`. */
export function labelCommand(): Command {
  return new Command('label')
    .description('say what is known of a recorded run, for tuning: appended and sealed, never changed')
    .argument('<store>', 'the store, for example records.sqlite')
    .argument('<run>', 'number of the run')
    .addArgument(new Argument('<label>', 'what is known').choices([...truthLabels, ...spikeLabels]))
    .addOption(new Option('--at <seconds>', "where the excursion is, in s on the clock of the trace; with 'real spike' and 'no spike'").argParser(seconds))
    .requiredOption('--who <name>', 'who says so')
    .option('--why <reason>', 'how it is known; needed where another label is contradicted')
    .option('--json', 'print the labels of the run as JSON')
    .addHelpText(
      'after',
      `
A label says what is true of the assemblies, not what the verdict was: 'truly leaking' when the leak was found, 'truly
sound' when a longer or another test showed that there is none, 'cannot tell' when the recording hides it (a stroke in
the hold, a gap) and must neither pass nor fail. 'not known' takes a label back. While the daemon records
into the store, set labels on its page. In a folder of traces, write {"label":"truly leaking"} to NAME.truth.json.

Examples:
  dwellkeeper label records.sqlite 17 'truly leaking' --who 'R. Roe' --why 'seal was cut'
  dwellkeeper label records.sqlite 17 'no spike' --at 93.2 --who 'R. Roe'`,
    )
    .action((path: string, run: string, label: TruthLabel | SpikeLabel, { at, who, why, json }: Flags) => {
      if (statSync(path, { throwIfNoEntry: false })?.isDirectory()) throw inputError(path, '', 'is a folder of traces; write {"label":"truly leaking"} to NAME.truth.json beside the trace instead');
      if (statSync(path, { throwIfNoEntry: false }) === undefined) throw inputError(path, '', 'there is no such store');
      const number = Number(run);
      if (!Number.isSafeInteger(number) || number < 1) throw inputError('label', '<run>', `'${run}' should be the number of one run, for example 17: each needs a look of its own`);
      const { store } = openStore(path, { software });
      try {
        labelRun(store, number, { label, ...(at !== undefined && { at }) }, { who, ...(why !== undefined && { why }) });
        const labels = labelsIn(store.entriesOf(number).map(({ entry }) => entry));
        const excursions = labels.spikes.map(({ at: time, real }) => `${time} s ${real ? 'a real spike' : 'no spike'}`);
        console.log(json ? JSON.stringify({ run: number, ...labels }) : `run ${number}: ${[labels.truth ?? 'not known whether it leaks', ...excursions].join('; ')}`);
      } catch (error) {
        throw accessRefusal(error, path, 'write') ?? diskRefusal(error, path) ?? error;
      } finally {
        store.close();
      }
    });
}
