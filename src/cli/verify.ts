import { closeSync, openSync, readdirSync, readFileSync, readSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { Command } from 'commander';
import { sealIn } from '../certificate/seal-code.js';
import { inputError } from '../core/problems.js';
import { readBytes } from '../files/input-file.js';
import { publicKeyFrom } from '../records/key-files.js';
import { parseExported, verifyExported } from '../records/exported-record.js';
import { openStore } from '../records/store.js';
import { verifyLedger, type Verification, type VerifyOptions } from '../records/verify-ledger.js';
import { paintFor, type Paint } from './paint.js';
import { software } from './program.js';
import { StepLine } from './step-line.js';

interface Flags {
  readonly key?: string;
  readonly seal?: string;
  readonly judging: boolean;
  readonly json?: true;
  readonly progress?: true;
}

interface Checked extends Verification {
  readonly file: string;
  readonly kind: 'store' | 'record';
}

/** Exit code where something is not as it was sealed. */
const broken = 1;

/** `verify [FILE|DIR]`: is everything as it was sealed, and does it come to the same verdicts? */
export function verifyCommand(): Command {
  return new Command('verify')
    .description('check stores and exported records: seals, signatures, traces, and every verdict judged again')
    .argument('[path]', 'a store, an exported record, or a folder of them', '.')
    .option('--key <file>', 'public key (PEM) that every seal must be signed with')
    .option('--seal <seal>', 'a seal known from elsewhere, for example from a certificate: it must be there; of a folder, in one of its files')
    .option('--no-judging', 'leave out judging again')
    .option('--json', 'print what was found as JSON')
    .option('--progress', 'tell on stderr how far it is, also where that is not a terminal')
    .addHelpText(
      'after',
      `
Nothing is written and nothing is asked of other machines. Each run is judged again from its stored readings, by the
plan, thresholds and instrument of its record, and must come to the very same outcome. A store can be checked while the
daemon records into it. What was cut off at the end of a ledger shows only against a seal that was kept elsewhere.

Exit code: 0 when everything is as it was sealed, 1 when anything is not, 2 for input that must be corrected.

Examples:
  dwellkeeper verify records.sqlite
  dwellkeeper verify exported/ --key bench-2.public.pem --json`,
    )
    .action(verify);
}

function verify(path: string, flags: Flags): void {
  const options = {
    judgeAgain: flags.judging,
    ...(flags.key !== undefined && { publicKey: publicKeyFrom(flags.key) }),
    ...(flags.seal !== undefined && { knownSeal: knownSeal(flags.seal) }),
  };
  const line = new StepLine(flags.progress === true || process.stderr.isTTY === true);
  const files = filesAt(path);
  const checked = files.map((file) => check(file, { ...options, sealMayBeElsewhere: files.length > 1, progress: (record) => line.step(() => `${file}: record ${record}`) }));
  line.end();
  if (flags.json) console.log(JSON.stringify(checked));
  else checked.forEach((one) => tell(one, paintFor(process.stdout)));
  const sealIsMissing = files.length > 1 && flags.seal !== undefined && !checked.some(({ holdsSeal }) => holdsSeal);
  if (sealIsMissing) console.error(`BROKEN  ${path}: none of its ${files.length} files holds the seal ${options.knownSeal}`);
  if (sealIsMissing || checked.some(({ intact }) => !intact)) process.exitCode = broken;
}

function check(file: string, options: VerifyOptions): Checked {
  if (!isStore(file)) {
    const exported = parseExported(readFileSync(file, 'utf8'), file);
    return { file, kind: 'record', ...verifyExported(exported, software, options) };
  }
  const { store } = openStore(file, { software, readOnly: true });
  try {
    return { file, kind: 'store', ...verifyLedger(store, options) };
  } finally {
    store.close();
  }
}

function filesAt(path: string): string[] {
  if (!statSync(path, { throwIfNoEntry: false })?.isDirectory()) {
    readBytesOfHead(path);
    return [path];
  }
  const files = readdirSync(path)
    .filter((name) => /\.(sqlite|db|json)$/i.test(name))
    .sort()
    .map((name) => join(path, name))
    .filter((file) => isStore(file) || looksExported(file));
  if (files.length === 0) throw inputError(path, '', 'holds no store (.sqlite, .db) and no exported record (.json)');
  return files;
}

const isStore = (file: string): boolean => readBytesOfHead(file).startsWith('SQLite format 3\0');
const looksExported = (file: string): boolean => /^\s*\{\s*"dwellkeeper"/.test(readBytesOfHead(file));

/** The first bytes of a file as Latin-1. @throws InputError where it cannot be read */
function readBytesOfHead(file: string): string {
  const head = Buffer.alloc(64);
  try {
    const handle = openSync(file, 'r');
    try {
      return head.toString('latin1', 0, readSync(handle, head));
    } finally {
      closeSync(handle);
    }
  } catch {
    return Buffer.from(readBytes(file)).toString('latin1', 0, 64);
  }
}

function knownSeal(text: string): string {
  const seal = sealIn(text);
  if (seal === null) throw inputError('verify', '--seal', `'${text}' should be a seal of 64 hex digits, or the code of a certificate as it was scanned`);
  return seal;
}

function tell({ file, kind, intact, records, signed, lastSeal, audit, breaches, tracesRemoved, holdsSeal, again }: Checked, paint: Paint): void {
  console.log(`${paint.bold(intact ? paint.good('intact') : paint.bad('BROKEN'))}  ${file} (${kind}): ${records} sealed ${records === 1 ? 'record' : 'records'}, ${signed} signed${audit.entries === 0 ? '' : `; ${audit.entries} entries about changes, ${audit.signed} signed`}`);
  breaches.forEach(({ ledger, sentence }, i) => {
    console.log(`  ${i === 0 ? 'first: ' : ''}${ledger === null ? '' : `record ${ledger}: `}${sentence}`);
  });
  if (holdsSeal === true) console.log('  holds the seal that was asked for');
  if (tracesRemoved > 0) console.log(`  ${tracesRemoved} ${tracesRemoved === 1 ? 'trace was' : 'traces were'} given up to keep room, as later entries say; those runs are not judged again`);
  if (again !== null) {
    console.log(`  ${again.same === 1 ? 'one run judged again comes' : `${again.same} runs judged again come`} out the same`);
    for (const remark of again.remarks) console.log(`  ${remark}`);
  }
  if (records > 0) console.log(paint.quiet(`  last seal ${lastSeal}`));
  if (audit.lastSeal !== null) console.log(paint.quiet(`  last seal of the changes ${audit.lastSeal}`));
}
