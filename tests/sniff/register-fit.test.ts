import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { modbusCrc } from '../../drivers/modbus-crc.js';
import { overheard } from '../../src/sniff/overheard.js';
import type { Wanted } from '../../src/sniff/plausible.js';
import { likelyEnough, registerFits } from '../../src/sniff/register-fit.js';
import { modbusReport } from '../../src/sniff/report-modbus.js';
import { request } from './sniff-request.js';
import { modbusRtu } from '../../drivers/modbus-rtu.js';
import { bytesOf, modbusLink, rtu } from '../drivers/modbus-link.js';

/** Holding registers from 0 of slave 1, read several times; each round in hex. */
const best = (rounds: readonly string[], wanted: Wanted = {}) =>
  registerFits([{ unitId: 1, table: 'holding', start: 0, count: bytesOf(rounds[0] ?? '').length / 2, rounds: rounds.map((hex, time) => ({ time, bytes: bytesOf(hex) })) }], wanted);
const float = (value: number) => {
  const bytes = Buffer.alloc(4);
  bytes.writeFloatBE(value);
  return bytes.toString('hex');
};

describe('which registers may hold the pressure', () => {
  // The bits are IEEE 754 singles: 123.456 is 42F6E979, 350 is 43AF0000, 700.5 is 442F2000.
  it.each([
    ['42 F6 E9 79', 'ABCD', 123.456], ['E9 79 42 F6', 'CDAB', 123.456], ['F6 42 79 E9', 'BADC', 123.456], ['79 E9 F6 42', 'DCBA', 123.456],
    ['43 AF 00 00', 'ABCD', 350], ['00 00 43 AF', 'CDAB', 350], ['AF 43 00 00', 'BADC', 350], ['00 00 AF 43', 'DCBA', 350],
    ['44 2F 20 00', 'ABCD', 700.5], ['00 20 2F 44', 'DCBA', 700.5],
  ])('%s is float32 %s, when the needle shows it', (hex, order, value) => {
    const [fit] = best([hex, hex, hex], { expect: value, unit: 'bar' });
    expect(fit).toMatchObject({ type: 'float32', order, address: 0, scale: 1, unit: 'bar' });
    expect(fit?.readings[0]).toBeCloseTo(value, 3);
  });
  it.each([
    ['int16 in tenths', ['0D AE', '0D AF', '0D AE'], { expect: 350 }, { type: 'int16', scale: 0.1, unit: 'bar' }],
    ['int32 in thousandths, low word first', ['57 F8 00 05', '57 F9 00 05', '57 FA 00 05'], { expect: 350.2 }, { type: 'int32', order: 'CDAB', scale: 0.001, unit: 'bar' }],
    ['float32 in psi', [float(5076), float(5077), float(5076.5)], { expect: 350 }, { type: 'float32', unit: 'psi' }],
    ['float32 in MPa', [float(35.01), float(35), float(35.02)], { expect: 350 }, { type: 'float32', unit: 'MPa' }],
    ['float64', ['40 75 E3 33 33 33 33 33', '40 75 E3 D7 0A 3D 70 A4', '40 75 E2 8F 5C 28 F5 C3'], { expect: 350.2 }, { type: 'float64', order: 'ABCD', address: 0 }],
    ['a value below zero', ['FF FB', 'FF FC', 'FF FB'], { expect: 0 }, { type: 'int16' }],
  ])('%s', (_name, rounds, wanted, right) => {
    expect(best(rounds, wanted)[0]).toMatchObject(right);
  });
  it('on a vented bench, with nothing said: what hovers near zero, not a temperature, a counter or flags', () => {
    const rounds = [0.2, 0.25, 0.15, 0.2, 0.3].map((pressure, i) => `${float(21.4)} ${float(pressure)} 00 00 ${(0x0150 + 7 * i).toString(16).padStart(4, '0')} 00 05`);
    const fits = best(rounds);
    expect(fits[0]).toMatchObject({ type: 'float32', order: 'ABCD', address: 2, unit: 'bar', says: expect.stringContaining('near zero') as string });
    expect(fits.find(({ address }) => address === 5 || address === 4)?.score ?? 0).toBeLessThan((fits[0]?.score ?? 0) / 2);
  });
  it('registers that hold no value, not-a-number and zeros say nothing', () => {
    expect(best(['7F C0 00 00', '7F BF FF 80'], { expect: 350 }).filter(({ type }) => type === 'float32')).toEqual([]);
    for (const { score } of [...best(['7F C0 00 00', '7F BF FF 80'], { expect: 350 }), ...best(['00 00 00 00', '00 00 00 00'])]) expect(score).toBeLessThan(likelyEnough);
  });
  it('what cannot be within the range of the transducer is none', () => {
    const range = { lower: 0, upper: 600 };
    expect(best([float(700.5)], { range, unit: 'bar' }).some(({ type }) => type === 'float32')).toBe(false);
    expect(best([float(350)], { range, unit: 'bar' })[0]).toMatchObject({ type: 'float32', readings: [350] });
  });
  it('the same pressure written twice is worth more', () => {
    const pressures = [100, 180, 260, 330];
    const twice = best(pressures.map((p) => `${float(p)} ${(p * 10).toString(16).padStart(4, '0')}`));
    const once = best(pressures.map((p) => float(p)));
    expect(twice[0]).toMatchObject({ type: 'float32', address: 0 });
    expect(twice[0]?.score).toBeGreaterThan(once[0]?.score ?? 1);
  });
});

// https://github.com/stephane/libmodbus/issues/358, https://github.com/OpenEMS/openems/issues/86
it('FC-14: the registers are shown in all four orders, at the address and one before and behind it', () => {
  // 350 and 24.5 as IEEE 754 singles, from address 0; the pressure is then that at 0, and at 1 lie halves of both.
  const registers = bytesOf('0000 43AF 0000 41C4 0000');
  const series = [{ unitId: 1, table: 'holding', start: 7, count: 5, rounds: [1, 2, 3].map((time) => ({ time, bytes: registers })) }] as const;
  const fits = registerFits(series, { expect: 350, unit: 'bar' });
  const heard = { attempts: [], settings: null, units: [{ unitId: 1, said: '0000', took: 0.01 }], anyUnit: false, series, alike: [], bits: [], fits, slowest: 0.01 };
  const report = modbusReport(heard, request({ target: { kind: 'tcp', host: '192.0.2.7', port: 502 }, how: 'modbus', wanted: { expect: 350, unit: 'bar' } })).join('\n');
  expect(fits[0]).toMatchObject({ address: 8, order: 'ABCD', readings: [350, 350, 350] });
  expect(report).toContain('holding registers as float32, in each order:');
  expect(report).toMatch(/^ {2}8: 43AF0000 {2}ABCD 350, CDAB none/m);
  expect(report).toMatch(/^ {2}7: 000043AF {2}ABCD none, CDAB 350/m);
  // 2.4e-41: no measurement, never shown as 0.
  expect(report).toMatch(/^ {2}9: 000041C4 {2}ABCD none, CDAB 24\.5/m);
});

/** https://github.com/sigrokproject/sigrok-dumps (public domain): a flow controller at address 247, asked by another program. */
const whole = new URL('../../../shared/data/serial-captures/flowmeter_target_15liter_per_min.decoded.txt', import.meta.url);
const recordings = [new URL('../drivers/captures/flow-controller.tsv', import.meta.url), whole].filter((path) => existsSync(path));

describe.each(recordings.map((path) => [path.pathname.split('/').at(-1), path] as const))('talk of Modbus RTU between others: %s', (_name, path) => {
  const frames = readFileSync(path, 'latin1').split('\n').filter((row) => /^\d/.test(row)).map((row) => bytesOf(row.split('\t').find((field) => /^[0-9a-f]{2} /.test(field)) ?? ''));
  it('is known by its checksums, and its values are found', () => {
    const heard = overheard(Buffer.concat(frames), { expect: 23, unit: 'bar' });
    expect(heard?.frames).toBe(frames.length);
    expect(heard?.asked).toContain('unit id 247, holding 0 to 14');
    // Its temperature is 22.9 to 23.0 at register 2; here it stands for what a needle would show.
    expect(heard?.fits[0]).toMatchObject({ unitId: 247, table: 'holding', address: 2, type: 'float32', order: 'ABCD' });
    for (const value of heard?.fits[0]?.readings ?? [NaN]) expect(Math.abs(value - 22.95)).toBeLessThan(0.11);
  });
  it('is found from anywhere, and lines of text are none of it', () => {
    const bytes = Buffer.concat([Buffer.from([0, 0xff, 0x03]), ...frames]).subarray(1);
    expect(overheard(bytes, {})?.frames).toBe(frames.length);
    expect(overheard(Buffer.from('+0550.20 bar\r\n'.repeat(200)), {})).toBeNull();
  });
});

it('what was found reads the same through the driver', () => {
  const [fit] = best([float(350), float(350.5), float(351)].map((hex) => `00 00 ${hex.slice(4)}${hex.slice(0, 4)}`), { expect: 350 });
  expect(fit).toMatchObject({ address: 1, order: 'CDAB' });
  const values = [{ table: fit?.table, address: fit?.address, type: fit?.type, order: fit?.order, scale: fit?.scale }];
  const link = modbusLink({ values });
  const answer = rtu('01 03 04 80 00 43 AF');
  expect(modbusCrc(answer)).toBe(0);
  link.wiring.receive(answer);
  expect(link.values()).toEqual([351]);
  expect(modbusRtu.options.safeParse({ driver: 'modbus-rtu', path: '/dev/ttyBENCH', addressBase: 0, every: '1 s', values }).success).toBe(true);
});
