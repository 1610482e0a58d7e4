import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { InputError } from '../../src/core/problems.js';
import { readBench } from '../../src/daemon/bench-setup.js';

const channel = { input: { driver: 'serial-line', path: '/dev/ttyUSB0' }, unit: 'bar', range: { upper: '1000 bar' } };
const right = { bench: 'north bench', plan: 'plans/dn12.yaml', channels: [channel] };
const problemsOf = (work: () => unknown): string[] => {
  try {
    work();
  } catch (error) {
    if (error instanceof InputError) return error.message.split('\n');
    throw error;
  }
  return [];
};

describe('bench file', () => {
  it('fills in what is left out, and paths are relative to the file', () => {
    expect(parseBench(right, '/etc/benches/north.yaml')).toMatchObject({
      name: 'north bench', unit: 'bar', store: '/etc/benches/records.sqlite', plan: '/etc/benches/plans/dn12.yaml', page: { address: '127.0.0.1', port: 8460 },
      channel: { channel: 'pressure', range: { lower: 0, upper: 1000 } },
    });
    expect(parseBench({ ...right, store: '/var/lib/north.sqlite' }, 'north.yaml').store).toBe('/var/lib/north.sqlite');
    expect(parseBench({ ...right, unit: 'PSI' }, 'north.yaml').unit).toBe('psi');
  });

  it.each([
    ['no name', { ...right, bench: '' }, ['b: bench: the bench needs a name']],
    ['a name that is missing', { channels: [channel] }, ['b: bench: missing; it must be a string']],
    ['a mistyped key', { ...right, chanels: [] }, ["b: chanels: unknown key; did you mean 'channels'?"]],
    ['a key that is near none, by those of its place', { ...right, channels: [{ ...channel, range: { ...channel.range, middle: '1 bar' } }] }, ['b: channels.0.range.middle: unknown key; known keys here are lower, upper']],
    ['a key of another driver, by those of the one named', { ...right, channels: [{ ...channel, input: { driver: 'replay', path: 'x.csv', wibble: 1 } }] }, ['b: channels.0.input.wibble: unknown key; known keys here are driver, path, speed']],
    ['a mistyped key of a channel', { ...right, channels: [{ ...channel, resolutoin: '0.1 bar' }] }, ["b: channels.0.resolutoin: unknown key; did you mean 'resolution'?"]],
    ['a unit that is none', { ...right, unit: 'bars of gold' }, [expect.stringMatching(/^b: unit: 'bars of gold' should be one of bar, mbar/)]],
    ['a port out of range', { ...right, page: { port: 70_000 } }, [expect.stringMatching(/^b: page\.port: .*1 to 65535/)]],
    ['no channel', { ...right, channels: [] }, ['b: channels: should list at least one pressure channel']],
    ['several mistakes', { bench: 7, unit: 'x', channels: [{}] }, [expect.stringMatching(/^b: bench: /), expect.stringMatching(/^b: unit: /), expect.stringMatching(/^b: channels\.0\./), expect.any(String), expect.any(String)]],
    ['a list', [1, 2], ["b: holds no 'key: value' lines"]],
  ])('%s', (_name, input, says) => {
    expect(problemsOf(() => parseBench(input, 'b'))).toEqual(says);
  });
});

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'files-'));
});
afterEach(() => rmSync(folder, { recursive: true, force: true }));

const planText = (hold: string) => `plan: short proof\ntestPressure: 550 bar\nholdTime: ${hold}\n`;
const write = (name: string, text: string): void => writeFileSync(join(folder, name), text);

describe('reading a bench with its files', () => {
  it('keeps what people wrote beside what it means', () => {
    write('plan.yaml', planText('3 s # short'));
    write('bench.yaml', `bench: north\nplan: plan.yaml\nchannels:\n  - ${JSON.stringify(channel)}\n`);
    const { plan, thresholds } = readBench(join(folder, 'bench.yaml'));
    expect(plan).toMatchObject({ value: { plan: 'short proof', holdTime: 3 }, text: planText('3 s # short') });
    expect(thresholds).toMatchObject({ value: { thresholds: 'standard' }, text: null });
  });
});
