import { readdirSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { drivers } from '../../drivers/index.js';
import { parseBench } from '../../src/acquisition/bench-file.js';
import { channelKeys, channelSchema } from '../../src/acquisition/channel-config.js';
import { problemsOf } from '../../src/core/problems.js';
import { benchLink } from '../acquisition/bench-link.js';
import { bytesOf, hexOf, rtu } from './modbus-link.js';

const folder = new URL('../../drivers/examples/', import.meta.url);
const files = readdirSync(folder).map((name) => [name, parse(readFileSync(new URL(name, folder), 'utf8')) as Record<string, unknown>] as const);
/** Entries of `channels`; the others are whole bench files. */
const examples = files.filter(([, written]) => written['bench'] === undefined);
const example = (wanted: string) => examples.find(([name]) => name === wanted)?.[1] ?? {};

describe('the commented examples', () => {
  it.each(examples)('%s is right as it stands', (_name, written) => {
    const found = channelSchema.safeParse(written);
    expect(found.success ? [] : problemsOf(found.error, written, channelKeys)).toEqual([]);
  });
  it.each(files.filter(([, written]) => written['bench'] !== undefined))('%s is right as it stands', (_name, written) => {
    const bench = parseBench(written, 'bench.yaml');
    expect(bench.channels.length).toBeGreaterThan(1);
    expect(bench.links.flatMap(({ contacts }) => contacts.map(({ contact }) => contact))).toEqual(['lid', 'pump', 'vent']);
  });
  it('show every driver', () => {
    const shown = examples.map(([, written]) => (written['input'] as { driver: string }).driver);
    expect(new Set(shown)).toEqual(new Set(Object.keys(drivers)));
  });
  it('read the lines that they speak of', () => {
    const plain = benchLink(example('serial-line.yaml'));
    plain.wiring.receive('0.00 bar\r\n+0500.00 bar\r\n+0500.0 bar\r\n');
    expect(plain.good()).toEqual([0.3 + 1.0004 * 500 - 2e-7 * 500 ** 2]);

    const polled = benchLink(example('serial-line-polled.yaml'));
    polled.clock.pass(0.01);
    polled.wiring.receive('1;550,2;bar;OK\r');
    polled.clock.pass(0.1);
    polled.wiring.receive('1;HHHH;bar;OK\r');
    expect(polled.samples().map((sample) => sample.fault)).toEqual([undefined, 'over-range']);
    expect(polled.good()).toEqual([550.2]);

    const current = benchLink(example('serial-line-current.yaml'));
    current.wiring.receive('0.0 mA L1P0\r\n# comment\r\n12.000 mA L1P1\r\n');
    expect(current.good()).toEqual([300]);
    expect(current.marks()).toEqual(['lid-closed 0.0', 'pump-on 0.0']);

    const transmitter = benchLink(example('modbus-rtu.yaml'));
    transmitter.clock.pass(0.01);
    transmitter.wiring.receive(rtu('03 03 04 44 2F 20 00'));
    expect(transmitter.good()).toEqual([700.5]);

    const module = benchLink(example('modbus-tcp-current.yaml'));
    module.clock.pass(0.01);
    module.wiring.receive(bytesOf('00 01 00 00 00 05 05 04 02 2E E0'));
    expect(module.wiring.sent.map((frame) => hexOf(frame))).toEqual(['00 01 00 00 00 06 05 04 00 10 00 01']);
    expect(module.good()).toEqual([500]);
  });
});
