import { writeFileSync } from 'node:fs';
import { Command, Option } from 'commander';
import { localZone } from '../acquisition/calibration-due.js';
import { parseBench } from '../acquisition/bench-file.js';
import { documentRequest } from '../certificate/document-request.js';
import { labelCharsets } from '../certificate/label-charset.js';
import { makeDocument } from '../certificate/make-document.js';
import { shopOf, type Shop } from '../certificate/shop.js';
import { InputError, inputError, problemsOf } from '../core/problems.js';
import { readYamlFile } from '../files/yaml-file.js';
import { openStore } from '../records/store.js';
import { software } from './program.js';

interface Flags {
  readonly store?: string;
  readonly bench?: string;
  readonly order?: string;
  readonly assembly?: string;
  readonly as: 'certificate' | 'label' | 'label-text' | 'findings' | 'zip';
  readonly width: string;
  readonly charset?: string;
  readonly paper?: string;
  readonly to?: string;
  readonly force?: true;
  readonly json?: true;
}

/** `certificate RUN --store FILE`: the document of a run or of an order. */
export function certificateCommand(): Command {
  return new Command('certificate')
    .description('write the certificate of a run or of a whole order as a PDF, or a label for a receipt printer')
    .argument('[run]', 'number of the run; leave it out with --order')
    .option('--store <file>', 'the store, for example records.sqlite; without it the one that the bench file names')
    .option('--bench <file>', 'the bench file: its section shop stands at the head')
    .option('--order <order>', 'every run of an order in one document')
    .option('--assembly <serial>', 'only for this assembly of the run')
    .addOption(new Option('--as <kind>', 'what to write; zip is for an order').choices(['certificate', 'label', 'label-text', 'findings', 'zip']).default('certificate'))
    .addOption(new Option('--width <mm>', 'width of the paper of a label').choices(['58', '80']).default('58'))
    .addOption(new Option('--charset <charset>', 'signs that the receipt printer has, for label-text; without it what the bench file says').choices(labelCharsets))
    .addOption(new Option('--paper <paper>', 'A4 or Letter; without it what the bench file says').choices(['A4', 'Letter']))
    .option('--to <file>', 'where to write it; without it a name of its own in this folder')
    .option('--force', 'write over a file that is there')
    .option('--json', 'print name and kind of what was written as JSON')
    .addHelpText(
      'after',
      `
Nothing in the store is changed. Where something is missing the document says PROVISIONAL and what; for a run that was
not passed it is a report and says NO CERTIFICATE. The code on it carries the seal for 'verify --seal'.

A pass says what the pressure showed; somebody must still look for leakage. Local rules and competent persons decide.

Examples:
  dwellkeeper certificate 17 --store records.sqlite --bench bench.yaml
  dwellkeeper certificate --order A-1042 --bench bench.yaml --as zip`,
    )
    .action(certificate);
}

async function certificate(run: string | undefined, flags: Flags): Promise<void> {
  if ((run === undefined) === (flags.order === undefined)) throw inputError('certificate', '', 'give either the number of a run or --order, for example: certificate 17 --store records.sqlite');
  const bench = flags.bench === undefined ? null : readYamlFile(flags.bench).check(parseBench);
  const path = flags.store ?? bench?.store;
  if (path === undefined) throw inputError('certificate', '--store', 'is missing; name the store, or the bench file with --bench');
  const shop: Shop = shopOf(bench?.shop, localZone(), flags.bench);
  const request = requestOf(run, flags);
  const { store } = openStore(path, { software, readOnly: true });
  try {
    const { name, bytes } = await makeDocument(store, request, shop);
    const file = flags.to ?? name;
    write(file, bytes, flags.force === true);
    console.log(flags.json ? JSON.stringify({ file, bytes: bytes.length }) : `${file} written`);
  } finally {
    store.close();
  }
}

function requestOf(run: string | undefined, { order, assembly, as, width, paper, charset }: Flags) {
  const one = assembly === undefined ? {} : { assembly };
  const on = paper === undefined ? {} : { paper };
  const refuse = (option: string, text: string): never => {
    throw inputError('certificate', option, text);
  };
  if (order !== undefined && (as === 'label' || as === 'label-text' || as === 'findings')) refuse('--as', `${as} is for one run; give its number`);
  if (order !== undefined && assembly !== undefined) refuse('--assembly', 'is for one run; give its number');
  if (charset !== undefined && as !== 'label-text') refuse('--charset', 'is for a label as text; give --as label-text');
  if (order === undefined && as === 'zip') refuse('--as', 'zip is for an order; give --order');
  const wanted =
    order !== undefined ? { kind: 'order', order, form: as === 'zip' ? 'zip' : 'pdf', ...on }
    : as === 'findings' ? { kind: 'record', run, form: 'csv' }
    : as === 'certificate' ? { kind: 'certificate', run, ...one, ...on }
    : { kind: 'label', run, ...one, width, form: as === 'label' ? 'pdf' : 'text', ...(charset !== undefined && { charset }) };
  const found = documentRequest.safeParse(wanted);
  if (!found.success) throw new InputError('certificate', problemsOf(found.error, wanted, []));
  return found.data;
}

function write(file: string, bytes: Uint8Array, force: boolean): void {
  try {
    writeFileSync(file, bytes, { flag: force ? 'w' : 'wx' });
  } catch (cause) {
    const code = cause instanceof Error && 'code' in cause ? String(cause.code) : String(cause);
    throw inputError(file, '', code === 'EEXIST' ? 'is there already; choose another name with --to, or --force to write over it' : `cannot be written (${code})`, cause);
  }
}
