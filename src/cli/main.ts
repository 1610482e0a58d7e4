import { Command } from 'commander';
import { software } from './program.js';
import { reportFailure } from './report-failure.js';

/** The commands: what each does in a line, and where it is. Only the one that is asked for is loaded. */
const commands: Readonly<Record<string, { readonly summary: string; readonly load: () => Promise<Command> }>> = {
  demo: { summary: 'show it all without hardware: a simulated bench on a real serial device, the daemon, the page', load: async () => (await import('./demo.js')).demoCommand() },
  start: { summary: 'watch a bench: record every pressurisation, judge it, show it on a page', load: async () => (await import('./start.js')).startCommand() },
  check: { summary: 'explain every error in bench, plan, thresholds and trace files', load: async () => (await import('./check.js')).checkCommand() },
  judge: { summary: 'judge a recorded trace against a plan', load: async () => (await import('./judge.js')).judgeCommand() },
  'judge-many': { summary: 'judge every trace of a folder, one line of JSON each', load: async () => (await import('./judge-many.js')).judgeManyCommand() },
  compare: { summary: 'judge recorded runs again with other thresholds or another plan, and tell which verdicts flip', load: async () => (await import('./compare.js')).compareCommand() },
  tune: { summary: 'propose thresholds from labelled runs, or show the trade-off over one or two of them', load: async () => (await import('./tune.js')).tuneCommand() },
  capability: { summary: 'tell the smallest leak that a hold can tell from settling, and how long a hold a leak limit needs', load: async () => (await import('./capability.js')).capabilityCommand() },
  label: { summary: 'say what is known of a recorded run, for tuning', load: async () => (await import('./label.js')).labelCommand() },
  export: { summary: 'write records out of a store: sealed records with their traces, traces for a spreadsheet, a table of runs', load: async () => (await import('./export.js')).exportCommand() },
  verify: { summary: 'check stores and exported records: seals, signatures, traces, and every verdict judged again', load: async () => (await import('./verify.js')).verifyCommand() },
  certificate: { summary: 'write the certificate of a run or of a whole order as a PDF, or a label for a receipt printer', load: async () => (await import('./certificate.js')).certificateCommand() },
  keygen: { summary: 'make a key pair that signs the seals of a bench', load: async () => (await import('./keygen.js')).keygenCommand() },
  people: { summary: 'say who may use the pages of a bench, and as what', load: async () => (await import('./people.js')).peopleCommand() },
  'try-alerts': { summary: 'send a trial message by every way that a bench file names', load: async () => (await import('./try-alerts.js')).tryAlertsCommand() },
  service: { summary: 'set a bench up as a service of systemd that starts with the computer', load: async () => (await import('./service.js')).serviceCommand() },
  plan: { summary: 'write a plan for a hose assembly', load: async () => (await import('./plan.js')).planCommand() },
  plans: { summary: 'list the plans of a folder, or find some of them', load: async () => (await import('./plans.js')).plansCommand() },
  calibrate: { summary: 'fit the calibration of a transducer to points of reference and reading', load: async () => (await import('./calibrate.js')).calibrateCommand() },
  sniff: { summary: 'find out what an instrument sends and how a bench file reads it', load: async () => (await import('./sniff.js')).sniffCommand() },
  'describe-api': { summary: 'write the description of the HTTP interface as OpenAPI 3.1', load: async () => (await import('./describe-api.js')).describeApiCommand() },
  simulate: { summary: 'play a simulated bench: as an instrument on a port, or as a recording', load: async () => (await import('./simulate.js')).simulateCommand() },
};

/** The command that the arguments ask for, also through `help COMMAND`. */
function wanted(args: readonly string[]): string | undefined {
  const [first, second] = args.filter((arg) => !arg.startsWith('-'));
  return first === 'help' ? second : first;
}

async function main(args: readonly string[]): Promise<void> {
  const program = new Command('dwellkeeper')
    .description('Watches a pressure transducer on a hydraulic hose test bench, judges each hold and keeps the record.\nIt watches and judges; it never drives the pump and is no safety device.')
    .version(software)
    .exitOverride()
    .addHelpText('after', '\nExample:\n  dwellkeeper judge trace.csv --plan plan.yaml\n\ndwellkeeper COMMAND --help shows the options of a command and an example.');
  const name = wanted(args);
  for (const [known, { summary, load }] of Object.entries(commands)) {
    program.addCommand(known === name ? exits(await load()) : new Command(known).description(summary));
  }
  if (args.length === 0) program.outputHelp();
  else await program.parseAsync(args, { from: 'user' });
}

/** A wrong option must give exit code 2, not the 1 that says an assembly failed. */
function exits(command: Command): Command {
  command.commands.forEach(exits);
  return command.exitOverride();
}

// A reader that stops early (`| head`) is no error.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code !== 'EPIPE') throw error;
  process.exit();
});

try {
  await main(process.argv.slice(2));
} catch (error) {
  process.exitCode = reportFailure(error);
}
