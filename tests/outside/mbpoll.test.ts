/** The simulated Modbus instruments, asked by mbpoll (libmodbus), which nobody here wrote. */
import { spawn } from 'node:child_process';
import { afterEach, describe, expect, it } from 'vitest';
import { ModbusInstrument, type ModbusOptions } from '../../simulators/instruments/modbus-instrument.js';
import { ModbusRtuLine } from '../../simulators/instruments/modbus-rtu.js';
import { listenModbusTcp } from '../../simulators/instruments/modbus-tcp.js';
import { createPtyPair } from '../../simulators/instruments/pty-pair.js';
import { openSerialWire } from '../../simulators/instruments/serial-line.js';

const cleanups: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const clean of cleanups.splice(0).reverse()) await clean();
});

type Ended = { readonly code: number | null; readonly values: readonly string[]; readonly said: string };

/** One poll; values are what stands behind `[address]:`. */
function mbpoll(...args: readonly string[]): Promise<Ended> {
  return new Promise((resolve, reject) => {
    const child = spawn('mbpoll', ['-0', '-1', '-o', '2', ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
    let said = '';
    for (const stream of [child.stdout, child.stderr]) stream.setEncoding('utf8').on('data', (text: string) => (said += text));
    child.on('error', reject);
    child.on('close', (code) => resolve({ code, said, values: [...said.matchAll(/^\[\d+\]:\s*(.+?)\s*$/gm)].map((match) => match[1] ?? '') }));
  });
}

function instrument(options: ModbusOptions): ModbusInstrument {
  const made = new ModbusInstrument(options);
  made.show({ time: 0, pressure: 550.25, flags: 0, contacts: { lidClosed: true, pumpOn: false, ventOpen: true } });
  return made;
}

async function overTcp(options: ModbusOptions = {}): Promise<readonly string[]> {
  const server = await listenModbusTcp([instrument(options)]);
  cleanups.push(() => server.close());
  return ['-m', 'tcp', '-p', String(server.port), '-a', String(options.unitId ?? 1), server.host];
}

async function overRtu(options: ModbusOptions = {}): Promise<readonly string[]> {
  const pair = await createPtyPair();
  cleanups.push(() => pair.close());
  const line = new ModbusRtuLine(await openSerialWire(pair.near, { baudRate: 19_200, parity: 'even' }), [instrument(options)]);
  cleanups.push(() => line.unplug());
  return ['-m', 'rtu', '-b', '19200', '-P', 'even', '-a', String(options.unitId ?? 1), pair.far];
}

describe.each([['TCP', overTcp], ['RTU on a pseudo terminal', overRtu]] as const)('mbpoll over %s', (_name, link) => {
  it('reads pressure, status and contacts in every type', async () => {
    const to = await link();
    const read = async (...args: string[]) => (await mbpoll(...args, ...to)).values;
    expect(await read('-t', '3:float', '-B', '-r', '0')).toEqual(['550.25']);
    expect(await read('-t', '4:float', '-B', '-r', '0')).toEqual(['550.25']);
    expect(await read('-t', '3', '-r', '2', '-c', '2')).toEqual(['5503', '1024']);
    expect(await read('-t', '4:int', '-B', '-r', '4', '-c', '2')).toEqual(['550250', '550250']);
    expect(await read('-t', '1', '-r', '0', '-c', '3')).toEqual(['1', '0', '1']);
    expect(await read('-t', '0', '-r', '0', '-c', '3')).toEqual(['1', '0', '1']);
    expect(await read('-t', '3:float', '-B', '-r', '14')).toEqual(['21.4']);
  });

  it('reads the other word order without -B, at another unit id, in another unit', async () => {
    const to = await link({ unitId: 17, wordOrder: 'CDAB', unit: 'psi' });
    const { values } = await mbpoll('-t', '3:float', '-r', '0', ...to);
    // NIST SP 811: 1 psi = 6894.757 Pa.
    expect(Number(values[0])).toBeCloseTo(55_025_000 / 6894.757293168, 1);
    expect((await mbpoll('-t', '3:int', '-r', '6', ...to)).values.map((v) => Number(v) / 1000)[0]).toBeCloseTo(55_025_000 / 6894.757293168, 2);
  });

  it('is refused beyond the map and when it writes', async () => {
    const to = await link();
    const beyond = await mbpoll('-t', '3', '-r', '500', ...to);
    expect(beyond.code).not.toBe(0);
    expect(beyond.said).toContain('Illegal data address');
    const written = await mbpoll('-t', '4', '-r', '0', ...to, '7');
    expect(written.code).not.toBe(0);
    expect(written.said).toContain('Illegal function');
  });
});
