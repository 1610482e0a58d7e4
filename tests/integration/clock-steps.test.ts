import { existsSync, mkdtempSync, readdirSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { stringify } from 'yaml';
import { listenTcpWire, type TcpWire } from '../../simulators/instruments/tcp-line.js';
import { verifyLedger } from '../../src/records/verify-ledger.js';
import { openStore } from '../../src/records/store.js';
import { build, CommandLine, eventually } from './command-line.js';
import { freePort } from './serial-bench.js';

/** https://github.com/wolfcw/libfaketime: preloaded, it gives a program another calendar, which a file may set at any moment. */
const library = readdirSync('/usr/lib').map((machine) => `/usr/lib/${machine}/faketime/libfaketimeMT.so.1`).find((path) => existsSync(path));

/** Summer time begins in Berlin: 01:00 UTC, when clocks on walls go from 02:00 to 03:00 (tz database, Europe/Berlin, EU rule). */
const summer = Date.UTC(2027, 2, 28, 1);

const folder = mkdtempSync(join(tmpdir(), 'clock-steps-'));
const clockFile = join(folder, 'clock');
let wire: TcpWire;
let program: CommandLine | null = null;
let page = '';
/** bar */
let pressure = 0.2;
let target = 0.2;

/** The calendar of the program from now on: ms since 1970. */
function setCalendar(wall: number): void {
  writeFileSync(`${clockFile}.new`, `${wall >= Date.now() ? '+' : ''}${((wall - Date.now()) / 1000).toFixed(3)}\n`);
  renameSync(`${clockFile}.new`, clockFile);
}
let sending: NodeJS.Timeout;

beforeAll(async () => {
  build();
  wire = await listenTcpWire();
  let count = 0;
  sending = setInterval(() => {
    pressure += Math.max(-20, Math.min(8, target - pressure));
    wire.send(Buffer.from(`${(pressure + ((count++ * 37) % 11) / 100).toFixed(2)}\r\n`, 'latin1'));
  }, 20);
  writeFileSync(join(folder, 'plan.yaml'), 'plan: short proof\ntestPressure: 550 bar\nholdTime: 5 s\nminimumPressure: 530 bar\n');
  writeFileSync(join(folder, 'thresholds.yaml'), 'quietTime: 1 s\nsettleWindow: 2 s\nsettleTimeout: 20 s\nrunEnd: 2 s\ngap: 5 s\n');
  writeFileSync(
    join(folder, 'bench.yaml'),
    stringify({
      bench: 'north bench', store: 'records.sqlite', page: { port: await freePort() }, plan: 'plan.yaml', thresholds: 'thresholds.yaml',
      channels: [{ input: { driver: 'tcp-line', host: wire.host, port: wire.port }, unit: 'bar', range: { upper: '1000 bar' }, resolution: '0.01 bar' }],
    }),
  );
});
afterAll(async () => {
  clearInterval(sending);
  await program?.end('SIGKILL');
  await wire.close();
  rmSync(folder, { recursive: true, force: true });
});

const phase = async (): Promise<string> => ((await (await fetch(`${page}/api/benches`)).json()) as { phase: string }[])[0]?.phase ?? '';
const untilPhase = (wanted: string) => eventually(`phase ${wanted}`, async () => (await phase()) === wanted);
const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));
const steps = () => (program?.stderr.match(/the clock of the computer was set by/g) ?? []).length;
const untilSteps = (count: number) => eventually(`step ${count} of the clock`, () => steps() >= count);

/** One run; `meanwhile` happens in its hold. */
async function run(number: number, meanwhile: () => Promise<void>): Promise<void> {
  target = 551;
  await untilPhase('holding');
  const began = performance.now();
  await meanwhile();
  // The hold lasts 5 s, and its start may be set right by a second or two; a little more, for a machine that has other things to do.
  await pause(Math.max(0, 10_000 - (performance.now() - began)));
  target = 0.2;
  await eventually(`run ${number}`, async () => ((await (await fetch(`${page}/api/benches/north%20bench/runs`)).json()) as unknown[]).length === number);
}

// FC-24, with the real program and a calendar that is really set.
it('no step of the calendar changes a verdict, and each is on record', { timeout: 240_000 }, async () => {
  if (library === undefined) throw new Error('libfaketime is not there; install the Debian package faketime');
  setCalendar(summer - 60_000);
  program = new CommandLine(['start', 'bench.yaml'], folder, {
    LD_PRELOAD: library, FAKETIME_TIMESTAMP_FILE: clockFile, FAKETIME_NO_CACHE: '1', FAKETIME_DONT_FAKE_MONOTONIC: '1', DONT_FAKE_MONOTONIC: '1', TZ: 'Europe/Berlin',
  });
  page = await program.page();
  await untilPhase('vented');
  expect(steps()).toBe(0);

  // Set so that summer time begins in the hold.
  await run(1, async () => {
    setCalendar(summer - 2000);
    await untilSteps(1);
    await pause(2500);
  });
  // An hour forward, then two back.
  await run(2, async () => {
    setCalendar(summer + 3_600_000);
    await untilSteps(2);
    setCalendar(summer - 3_600_000);
    await untilSteps(3);
  });
  expect(await program.end()).toBe(0);

  const { store } = openStore(join(folder, 'records.sqlite'), { software: 'test', readOnly: true });
  const [second, first] = store.listRuns();
  expect([first?.verdict, second?.verdict], program.stderr).toEqual(['pass', 'pass']);
  const marksOf = (number: number) => store.traceOfRun(number).marks.map(({ kind, text }) => `${kind}: ${text?.replace(/-?\d+\.\d/, 'N')}`);
  const set = 'clock-step: the clock of the computer was set by N s';
  expect(marksOf(1)).toEqual([set]);
  expect(marksOf(2)).toEqual([set, set]);
  expect(store.getRun(2)?.outcome?.notes.join(' ')).toMatch(/set by 3\d{3}\.\d s.*set by -7\d{3}\.\d s/);
  for (const number of [1, 2]) {
    // The hold lasted what the plan wants, by the instrument's own time, and no time steps back.
    const [cycle] = store.getRun(number)?.outcome?.cycles ?? [];
    // Readings that come late in a bunch may lengthen it by as much, never by an hour.
    const held = (cycle?.holdEnd ?? 0) - (cycle?.settled ?? 0);
    expect(held).toBeGreaterThan(4.95);
    expect(held).toBeLessThan(60);
    const { time } = store.traceOfRun(number);
    expect(time.every((t, i) => i === 0 || t >= time[i - 1]!)).toBe(true);
  }
  // What was recorded around the change lies at one instant each, whatever clocks on walls show.
  const settled = store.getRun(1)?.outcome?.cycles[0]?.settled ?? NaN;
  const holdEnd = store.getRun(1)?.outcome?.cycles[0]?.holdEnd ?? NaN;
  expect(store.wallOf(1, holdEnd)).toBeGreaterThan(summer);
  expect(store.wallOf(1, settled)).toBeLessThan(summer);
  expect(verifyLedger(store).breaches).toEqual([]);
  store.close();
});
