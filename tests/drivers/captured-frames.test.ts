import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { modbusCrc } from '../../drivers/modbus-crc.js';
import { bytesOf, modbusLink } from './modbus-link.js';

/** Frames of real devices; excerpts of public recordings, the source stands in each. */
const folder = new URL('captures/', import.meta.url);
/** Where the whole recordings lie beside the project, they are read whole as well. */
const whole = new URL('../../../shared/data/serial-captures/', import.meta.url);

/** The frames of a recording in order: time in s, bytes in hex. */
function framesOf(...paths: URL[]): { time: number; hex: string }[][] {
  return paths.filter((path) => existsSync(path)).map((path) =>
    readFileSync(path, 'latin1').split('\n').filter((row) => /^\d/.test(row)).map((row) => {
      const fields = row.split('\t');
      return { time: Number(fields[0]), hex: (fields.find((field) => /^[0-9a-f]{2} /.test(field)) ?? '').toUpperCase() };
    }),
  );
}

/** Plays the answers of a recording to a driver that asks the same: each captured answer to one of our questions. */
function played(frames: readonly { hex: string }[], input: Readonly<Record<string, unknown>>) {
  const link = modbusLink({ every: '1 s', answerWithin: '300 ms', ...input });
  const answers = new Map<string, string[]>();
  frames.forEach(({ hex }, i) => {
    const answer = frames[i + 1]?.hex;
    if (answer !== undefined && answer !== hex) answers.set(hex, [...(answers.get(hex) ?? []), answer]);
  });
  for (let asked = 0; asked < link.wiring.sent.length; ) {
    const question = link.sent()[asked++] ?? '';
    const answer = answers.get(question)?.shift();
    if (answer === undefined) break;
    link.receive(answer);
    link.clock.pass(asked === link.wiring.sent.length ? 1 : 0.01);
  }
  return link;
}

const controller = {
  unitId: 247, baudRate: 9600, parity: 'none', readAcross: 10,
  values: [
    { value: 'flow', type: 'float32', address: 0 }, { value: 'temperature', type: 'float32', address: 2 },
    { value: 'set point', type: 'float32', address: 6 }, { value: 'status', type: 'uint16', address: 13 }, { value: 'last', type: 'uint16', address: 14 },
  ],
};

describe.each(framesOf(new URL('flow-controller.tsv', folder), new URL('flowmeter_target_15liter_per_min.decoded.txt', whole)).map((frames) => [frames.length, frames] as const))(
  'a flow controller at address 247 (%d frames)',
  (_count, frames) => {
    it('every frame has a right checksum', () => {
      expect(frames.length).toBeGreaterThan(30);
      expect(frames.filter(({ hex }) => modbusCrc(bytesOf(hex)) !== 0)).toEqual([]);
    });
    it('15 registers read at once: temperature 22.9 to 23.0, set point 20 and after it was written 15, status 0 or 8', () => {
      const link = played(frames, controller);
      const of = (name: string) => link.items.flatMap((item) => (item.kind === 'reading' && item.channel === name ? [item.value] : []));
      expect(of('temperature').length).toBeGreaterThanOrEqual(5);
      for (const value of of('temperature')) {
        expect(value).toBeGreaterThan(22.85);
        expect(value).toBeLessThan(23.05);
      }
      expect(of('set point').slice(0, 4)).toEqual([20, 20, 20, 20]);
      expect(of('set point').slice(4).every((value) => value === 15)).toBe(true);
      expect(of('set point').slice(4).length).toBeGreaterThan(0);
      expect(of('status').every((value) => value === 0 || value === 8)).toBe(true);
      expect(new Set(of('flow'))).toEqual(new Set([0]));
      expect(link.faults().filter((fault) => !fault.endsWith('no-answer'))).toEqual([]);
    });
    it('merely overheard, the same bytes are never a reading', () => {
      const link = modbusLink({ ...controller, every: '1000 s' });
      link.clock.to(0.5);
      for (const { hex } of frames) link.receive(hex);
      expect(link.values()).toEqual([]);
    });
  },
);

describe.each(framesOf(new URL('flowmeter_graph_tool.decoded.txt', whole), new URL('flow-controller.tsv', folder)).map((frames) => [frames.length, frames] as const))('questions of two registers (%d frames)', (_count, frames) => {
  it('flow is 0', () => {
    const question = frames.find(({ hex }) => hex.startsWith('F7 03 00 0D') || hex.startsWith('F7 03 00 00 00 02'));
    const values = question?.hex.startsWith('F7 03 00 0D') ? [{ value: 'status', type: 'uint16', address: 13 }] : [{ value: 'flow', type: 'float32', address: 0 }];
    const link = played(frames, { ...controller, values });
    expect(link.values().length).toBeGreaterThan(2);
    expect(link.values().every((value) => value === 0 || value === 8)).toBe(true);
  });
});

describe.each(framesOf(new URL('output-module.tsv', folder), new URL('brainchild-io-16do.decoded.txt', whole)).map((frames) => [frames.length, frames] as const))('an output module at address 1 (%d frames)', (_count, frames) => {
  it.each([
    ['function 1, coil 3', [{ table: 'coil', address: 3 }], 1],
    ['function 2, input 0', [{ table: 'discrete', address: 0 }], 0],
    ['function 3, register 99', [{ table: 'holding', type: 'uint16', address: 99 }], 0x0201],
    ['function 4, register 120', [{ table: 'input', type: 'uint16', address: 120 }], 0x4b00],
  ] as const)('%s', (_name, values, right) => {
    const link = played(frames, { unitId: 1, values });
    expect(link.values().length).toBeGreaterThan(0);
    expect(new Set(link.values())).toEqual(new Set([right]));
  });
});
