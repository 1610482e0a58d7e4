import { mkdtemp, readFile, readdir, rm } from 'node:fs/promises';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { parse } from 'yaml';
import { listenTcpWire } from '../../simulators/instruments/tcp-line.js';
import { listAll, runScenario } from '../../simulators/run-scenario.js';
import { csvOf, decimalsOf } from '../../simulators/trace-csv.js';
import { simulateCommand } from '../../src/cli/simulate.js';
import { parsePlan } from '../../src/core/plan.js';
import { InputError } from '../../src/core/problems.js';

let printed = '';
beforeEach(() => {
  printed = '';
  vi.spyOn(process.stdout, 'write').mockImplementation((text, ...rest) => {
    printed += String(text);
    const done = rest.find((r) => typeof r === 'function');
    done?.(null);
    return true;
  });
});
afterEach(() => vi.restoreAllMocks());

const simulate = (...args: string[]) => simulateCommand().exitOverride().parseAsync(args, { from: 'user' });

describe('simulate', () => {
  it('prints the recording as time_s,pressure_bar', async () => {
    await simulate('--scenario', 'live-pass', '--seed', '3');
    const lines = printed.trimEnd().split('\n');
    const { samples } = runScenario('live-pass', 3);
    expect(lines[0]).toBe('time_s,pressure_bar');
    expect(lines.length).toBe(samples.time.length + 1);
    expect(lines[100]?.split(',').map(Number)).toEqual([samples.time[99], samples.pressure[99]]);
  });

  it('prints truth, plan and thresholds', async () => {
    await simulate('--scenario', 'live-burst', '--truth');
    expect((JSON.parse(printed) as { verdict: string }).verdict).toBe('fail');
    printed = '';
    await simulate('--scenario', 'leak-orifice', '--plan');
    expect(parsePlan(parse(printed), 'printed')).toEqual(runScenario('leak-orifice', 1).plan);
    printed = '';
    await simulate('--scenario', 'live-burst', '--thresholds');
    expect(parse(printed)).toMatchObject({ quietTime: '1 s' });
  });

  it('names the scenarios', async () => {
    await simulate('--list');
    expect(printed.trimEnd().split('\n').length).toBe(listAll().length);
  });

  it('writes a folder of runs, plans and truths', async () => {
    const folder = await mkdtemp(join(tmpdir(), 'dwellkeeper-runs-'));
    try {
      await simulate('--as', 'folder', '--at', folder, '--scenario', 'live-pass', '--seeds', '2');
      expect((await readdir(folder)).sort()).toEqual(
        [1, 2].flatMap((seed) => ['csv', 'plan.yaml', 'thresholds.yaml', 'truth.json'].map((end) => `live-pass-${seed}.${end}`)),
      );
      const { samples, setup } = runScenario('live-pass', 2);
      expect(await readFile(join(folder, 'live-pass-2.csv'), 'utf8')).toBe(csvOf(samples, setup.transducer));
    } finally {
      await rm(folder, { recursive: true, force: true });
    }
  });

  it.each([
    [['--scenario', 'pass-plian'], "did you mean 'pass-plain'?"],
    [['--scenario', 'pass-plain', '--seed', 'x'], "--seed: 'x' should be a whole number"],
    [['--as', 'folder'], '--at: missing; it must be a folder'],
    [[], '--scenario: missing'],
    [['--as', 'tcp-line', '--at', 'nowhere'], 'HOST:PORT'],
    [['--as', 'serial-line', '--at', '/dev/no-such-device', '--scenario', 'live-pass'], "cannot open '/dev/no-such-device'"],
    [['--as', 'modbus-tcp', '--at', 'nowhere'], 'HOST:PORT'],
    [['--as', 'modbus-rtu', '--at', '/dev/no-such-device'], "cannot open '/dev/no-such-device'"],
    [['--as', 'modbus-tcp', '--at', '127.0.0.1:5020', '--unit-id', '300'], "--unit-id: '300' should be a whole number from 1 to 247"],
    [['--as', 'tcp-line', '--at', '127.0.0.1:4001', '--speed', '0'], "--speed: '0' should be a number above 0"],
  ])('refuses %j in one sentence', async (args, sentence) => {
    const failure = await simulate(...args).then(() => null, (error: unknown) => error);
    expect(failure).toBeInstanceOf(InputError);
    expect((failure as Error).message).toContain(sentence);
    expect(printed).toBe('');
  });

  it('plays an instrument over TCP until the scenario is over', async () => {
    vi.spyOn(process.stderr, 'write').mockReturnValue(true);
    const probe = await listenTcpWire();
    await probe.close();
    const playing = simulate('--as', 'tcp-line', '--at', `127.0.0.1:${probe.port}`, '--scenario', 'live-pass', '--speed', '5');
    let heard = '';
    const deadline = performance.now() + 20_000;
    const listen = (): void => {
      const socket = connect(probe.port, '127.0.0.1');
      socket.on('data', (bytes: Buffer) => (heard += bytes.toString('latin1')));
      socket.on('error', () => void (performance.now() < deadline && setTimeout(listen, 10)));
    };
    listen();
    await playing;
    const lines = heard.split('\r\n').filter((l) => l !== '');
    expect(lines.length).toBeGreaterThan(30);
    expect(lines.slice(1).every((l) => /^[+-]\d{4}\.\d\d bar$/.test(l))).toBe(true);
    expect(Math.max(...lines.map((l) => Number(l.slice(0, 8))))).toBeGreaterThan(550);
  });
});

describe('simulate as Modbus', () => {
  it('plays an instrument whose registers follow the scenario', async () => {
    vi.spyOn(process.stderr, 'write').mockReturnValue(true);
    const probe = await listenTcpWire();
    await probe.close();
    const playing = simulate('--as', 'modbus-tcp', '--at', `127.0.0.1:${probe.port}`, '--scenario', 'live-pass', '--speed', '6', '--unit', 'MPa');
    const heard: number[] = [];
    const request = Buffer.from('000000000006010400000002', 'hex');
    const ask = (): void => {
      const socket = connect(probe.port, '127.0.0.1', () => socket.write(request));
      socket.on('data', (bytes: Buffer) => {
        heard.push(bytes.readFloatBE(9));
        setTimeout(() => socket.write(request), 5);
      });
      socket.on('error', () => void (heard.length === 0 && setTimeout(ask, 10)));
    };
    ask();
    await playing;
    expect(heard.length).toBeGreaterThan(10);
    expect(Math.max(...heard)).toBeGreaterThan(55);
    expect(Math.max(...heard)).toBeLessThan(70);
  });
});

describe('decimals', () => {
  it.each([[0.01, 2], [0.1, 1], [1, 0], [0.5, 1], [0.001, 3], [0.145, 3]])('a step of %f needs %i', (step, decimals) => expect(decimalsOf(step)).toBe(decimals));
});
