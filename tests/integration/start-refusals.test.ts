import Database from 'better-sqlite3';
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { stringify } from 'yaml';
import { createPtyPair, type PtyPair } from '../../simulators/instruments/pty-pair.js';
import { openSerialWire } from '../../simulators/instruments/serial-line.js';
import type { Wire } from '../../simulators/instruments/wire.js';
import { build, CommandLine } from './command-line.js';
import { freePort } from './serial-bench.js';

let pair: PtyPair;
let busy: PtyPair;
let holder: Wire;
let listener: Server;
let taken: number;

beforeAll(async () => {
  build();
  pair = await createPtyPair();
  busy = await createPtyPair();
  // As another program would hold it: with the lock that serial programs take.
  const { SerialPort } = await import('serialport');
  const port = new SerialPort({ path: busy.far, baudRate: 9600, autoOpen: false });
  await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
  holder = await openSerialWire(busy.near);
  closing.push(() => new Promise<void>((resolve) => port.close(() => resolve())));
  listener = createServer();
  taken = await freePort();
  await new Promise<void>((resolve) => listener.listen(taken, '127.0.0.1', resolve));
});
const closing: (() => Promise<void>)[] = [];
afterAll(async () => {
  await Promise.all(closing.map((close) => close()));
  await holder.close();
  await pair.close();
  await busy.close();
  await new Promise((resolve) => listener.close(resolve));
});

const plan = 'plan: short proof\ntestPressure: 550 bar\nholdTime: 3 s\nminimumPressure: 530 bar\n';

interface Refusal {
  readonly name: string;
  /** Changes to a bench that is right. */
  readonly bench?: () => Record<string, unknown>;
  readonly channel?: () => Record<string, unknown>;
  /** The bench file itself, where it is no YAML of a bench. */
  readonly text?: string | null;
  readonly files?: Readonly<Record<string, string>>;
  readonly prepare?: (folder: string) => void;
  readonly args?: readonly string[];
  /** Each line on stderr. */
  readonly says: readonly RegExp[];
}

const refusals: readonly Refusal[] = [
  { name: 'no such bench file', text: null, says: [/^bench\.yaml: there is no such file$/] },
  { name: 'an empty bench file, as after a power cut', text: '', says: [/^bench\.yaml: the file is empty$/] },
  { name: 'a bench file full of zero bytes', text: '\0'.repeat(1879), says: [/^bench\.yaml: the file is empty$/] },
  { name: 'no YAML', text: 'bench: [north\nunit: bar\n', says: [/^bench\.yaml: line \d: is not valid YAML: /] },
  { name: 'a mistyped key', bench: () => ({ tresholds: 'thresholds.yaml' }), says: [/^bench\.yaml: .*tresholds: unknown key; did you mean 'thresholds'\?$/] },
  { name: 'a channel without its range, and a unit that is none', bench: () => ({ unit: 'furlong' }), channel: () => ({ range: undefined }), says: [/unit: 'furlong' should be one of bar, /, /channels\.0\.range: missing/] },
  {
    name: 'two empty channels',
    bench: () => ({ channels: [{}, {}] }),
    says: [0, 1].flatMap((k) => [
      new RegExp(`^bench\\.yaml: .*channels\\.${k}\\.unit: missing`),
      new RegExp(`^bench\\.yaml: .*channels\\.${k}\\.range: missing`),
      new RegExp(`^bench\\.yaml: .*channels\\.${k}\\.input: missing; say where the channel is read`),
    ]),
  },
  { name: 'no plan file where one is named', bench: () => ({ plan: 'none.yaml' }), says: [/^none\.yaml: there is no such file$/] },
  {
    name: 'mistakes in bench, plan and thresholds, told in one go',
    bench: () => ({ page: { port: 'eighty' } }),
    files: { 'plan.yaml': 'plan: p\ntestPressure: 550\nholdTime: 3 s\n', 'thresholds.yaml': 'quietTime: 10 bar\n' },
    says: [/^bench\.yaml: line 4, page\.port: 'eighty' should be a number$/, /^plan\.yaml: .*testPressure: '550' has no unit/, /^thresholds\.yaml: .*quietTime: '10 bar' should be a time/],
  },
  { name: 'a port that does not exist', channel: () => ({ input: { driver: 'serial-line', path: '/dev/ttyNOPE0' } }), says: [/^bench\.yaml: channels\.0\.input: \/dev\/ttyNOPE0 is not there; is the cable plugged in$/] },
  { name: 'a port that another program has', channel: () => ({ input: { driver: 'serial-line', path: busy.far } }), says: [/^bench\.yaml: channels\.0\.input: .* is in use by another program$/] },
  { name: 'a file that is no port', channel: () => ({ input: { driver: 'serial-line', path: 'plan.yaml' } }), says: [/^bench\.yaml: channels\.0\.input: plan\.yaml is not a serial port$/] },
  { name: 'nothing listening at the network instrument', channel: () => ({ input: { driver: 'tcp-line', host: '127.0.0.1', port: 9 } }), says: [/^bench\.yaml: channels\.0\.input: 127\.0\.0\.1:9 refuses the connection/] },
  { name: 'a page port that another program has', bench: () => ({ page: { port: taken } }), says: [/^bench\.yaml: page\.port: 127\.0\.0\.1:\d+ cannot be listened on \(another program has it\); choose another port$/] },
  { name: 'a page for the whole network', bench: () => ({ page: { address: '0.0.0.0' } }), says: [/^bench\.yaml: line 4, page\.address: '0\.0\.0\.0' can be reached from other machines/] },
  { name: 'a store that is another program’s database', prepare: (folder) => foreignDatabase(join(folder, 'records.sqlite')), says: [/records\.sqlite: is a database of another program; name another file for the store$/] },
  { name: 'a log level that there is not', args: ['--log', 'loud'], says: [/^--log: 'loud' should be one of trace, debug, info, warn, error, fatal, silent$/] },
];

function foreignDatabase(path: string): void {
  const db = new Database(path);
  db.exec('CREATE TABLE recipes (name TEXT)');
  db.close();
}

async function refused({ bench, channel, text, files, prepare, args, says }: Refusal): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'refusal-'));
  try {
    const right = {
      bench: 'north bench',
      store: 'records.sqlite',
      page: { port: await freePort() },
      plan: 'plan.yaml',
      channels: [{ input: { driver: 'serial-line', path: pair.far }, unit: 'bar', range: { upper: '1000 bar' }, ...channel?.() }],
      ...(files?.['thresholds.yaml'] === undefined ? {} : { thresholds: 'thresholds.yaml' }),
    };
    for (const [name, content] of Object.entries({ 'plan.yaml': plan, ...files })) writeFileSync(join(folder, name), content);
    const written = text === undefined ? stringify({ ...right, ...bench?.() }) : text;
    if (written !== null) writeFileSync(join(folder, 'bench.yaml'), written);
    prepare?.(folder);
    const before = readdirSync(folder).toSorted();
    const program = new CommandLine(['start', 'bench.yaml', ...(args ?? [])], folder);
    const code = await program.exit();
    const lines = program.stderr.trim().split('\n').filter((line) => !line.startsWith('{'));
    expect(lines).toEqual(says.map((say) => expect.stringMatching(say) as string));
    expect({ code, stdout: program.stdout }).toEqual({ code: 2, stdout: '' });
    // The file that keeps two programs apart is made before another program's database is recognised.
    expect(readdirSync(folder).filter((name) => name !== 'records.sqlite.lock').toSorted()).toEqual(before);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

describe('start refuses what a person must correct: a clear sentence each, exit code 2, nothing written', () => {
  it.each(refusals)('$name', refused, 60_000);
});

describe('start --wait', () => {
  it('begins without the instrument, says so on the page, and ends cleanly', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'waiting-'));
    try {
      mkdirSync(join(folder, 'deep'));
      writeFileSync(join(folder, 'plan.yaml'), plan);
      writeFileSync(
        join(folder, 'bench.yaml'),
        stringify({
          bench: 'north bench', store: 'deep/records.sqlite', page: { port: await freePort() }, plan: 'plan.yaml',
          channels: [{ input: { driver: 'serial-line', path: '/dev/ttyNOPE0' }, unit: 'bar', range: { upper: '1000 bar' } }],
        }),
      );
      const program = new CommandLine(['start', 'bench.yaml', '--wait', '--log', 'silent'], folder);
      const page = await program.page();
      const [bench] = (await (await fetch(`${page}/api/benches`)).json()) as { name: string; health: { dataAge: number | null; recording: boolean; notices: { text: string }[] } }[];
      expect(bench).toMatchObject({ name: 'north bench', health: { dataAge: null, recording: true } });
      expect(bench?.health.notices[0]?.text).toBe('/dev/ttyNOPE0 is not there; is the cable plugged in; trying again');
      expect(await program.end('SIGINT')).toBe(0);
      expect(readdirSync(join(folder, 'deep'))).toContain('records.sqlite');
      expect(program.stderr).toBe('');
    } finally {
      rmSync(folder, { recursive: true, force: true });
    }
  }, 60_000);
});
