import { existsSync, readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { listen } from './listen.js';

/**
 * Lines that real instruments sent. Excerpts of public recordings: the scale and the multimeter from
 * https://github.com/sigrokproject/sigrok-dumps (uart/kern_ew_6200-2nm, uart/cyrustek_es51978; public domain), the marine
 * lines from https://github.com/ntpsec/gpsd (test/daemon; BSD-2-Clause).
 */
const scale = {
  pattern: '(?<value>[-+]\\d[\\d. ]*?) {1,2}(?<unit>G|PC|CT|%) (?<state>[SUE])',
  baudRate: 1200,
  stopBits: 2,
};

describe('a weighing scale (1200 8N2, sign, digits, unit, state letter)', () => {
  it.each([
    ['+0026.90 G S', 26.9, 'G'],
    ['+0026.90 G U', 26.9, 'G'],
    ['+00127.20 G S', 127.2, 'G'],
    ['+000000  % U', 0, '%'],
  ])('%j is %d %s', (line, value, unit) => {
    const link = listen(scale);
    link.lines(line);
    expect(link.items.at(-1)).toMatchObject({ kind: 'reading', value, unit });
  });

  it('at overload the state letter counts, not the zeros beside it', () => {
    const link = listen(scale);
    link.lines('+4318.15 G U', '+0000.00 G E', '+0000.00 G E', '+1756.20 G U');
    expect(link.values()).toEqual([4318.15, 1756.2]);
    expect(link.faults()).toEqual(['error-word', 'error-word']);
  });

  it('the line that the recording cuts off is no reading', () => {
    const link = listen(scale);
    link.lines('+0000.07 G U');
    link.wiring.receive('+0000.');
    link.wiring.lose();
    expect(link.values()).toEqual([0.07]);
    expect(link.dropped()).toEqual(['cut-off: +0000.']);
  });
});

describe('a multimeter (2400 7O1, nine characters, each line twice)', () => {
  const input = { dataBits: 7, parity: 'odd', baudRate: 2400, lineLength: 9, pattern: '\\d(?<value>\\d{4})\\d{4}' };
  it('gives its four digits', () => {
    const link = listen(input);
    link.lines('506793002', '506793002', '507273002', '507273002', '507513002', '507513002');
    expect(link.values()).toEqual([679, 679, 727, 727, 751, 751]);
  });
});

describe('marine instruments (many talkers on one line, exclusive-or checksum)', () => {
  const depth = { checksum: 'xor', pattern: 'SDDPT,(?<value>[^,]*),0\\.4,', ignoreLines: '\\$(?!SDDPT).*' };
  it('the wanted talker is read, the others are ignored, a wrong checksum is told', () => {
    const link = listen(depth);
    link.lines('$SDDPT,5.3,0.4,*79', '$SDHDG,229.8,,,1.3,E*36', '$SDMTW,,C*1A', '$SDDPT,6.3,0.4,*79');
    expect(link.values()).toEqual([5.3]);
    expect(link.faults()).toEqual(['checksum']);
    expect(link.dropped()).toHaveLength(2);
  });
  it('an empty field is a missing reading: the unit is there, the value is not', () => {
    const link = listen({ checksum: 'xor', pattern: 'IIXDR,.*,P,(?<value>[^,]*),(?<unit>B),BARO,.*' });
    link.lines('$IIXDR,C,,C,AIRTEMP,A,-1.0,D,HEEL,A,2.9,D,TRIM,P,,B,BARO,A,-3.9,D,RUDDER*29');
    expect(link.values()).toEqual([]);
    expect(link.faults()).toEqual(['no-reading']);
  });
});

/** Where the whole recordings lie beside the project, they are read whole; otherwise the excerpts kept here are. */
const folder = new URL('../../../shared/data/serial-captures/', import.meta.url);
const recordings = [
  new URL('captures/scale-overload.tsv', import.meta.url),
  ...['various_values_and_overflow', '26_9g_stable', '26_9g_unstable', '127_2g_15byte_packet', '0percent']
    .map((name) => new URL(`kern_ew_6200-2nm_${name}.decoded.txt`, folder))
    .filter((path) => existsSync(path)),
];

describe('whole recordings', () => {
  it.each(recordings.map((path) => [path.pathname.split('/').at(-1), path] as const))('%s: every whole line is a reading or an error word, a cut one is dropped', (_name, path) => {
    const rows = readFileSync(path, 'latin1').split('\n').filter((row) => /^\d/.test(row)).map((row) => row.split('\t'));
    const link = listen(scale);
    for (const [, hex = ''] of rows) link.wiring.receive(Uint8Array.from(hex.split(' '), (byte) => Number.parseInt(byte, 16)));
    link.wiring.lose();
    const texts = rows.map(([, , text = '']) => text);
    const whole = texts.filter((text) => text.endsWith('\\r\\n'));
    expect(whole.length).toBeGreaterThan(0);
    expect(link.faults()).toEqual(whole.filter((text) => text.includes(' E\\r')).map(() => 'error-word'));
    expect(link.values()).toEqual(whole.filter((text) => !text.includes(' E\\r')).map((text) => Number(/[\d.]+/.exec(text)?.[0])));
    expect(link.dropped()).toEqual(texts.filter((text) => !text.endsWith('\\r\\n')).map((text) => `cut-off: ${text}`));
  });
  it('of the marine line: each of its lines is a depth or ignored, and every checksum is right', () => {
    const path = new URL('marine-instruments-1.log', folder);
    const lines = existsSync(path) ? readFileSync(path, 'latin1').split(/\r?\n/).filter((line) => line !== '') : ['$SDDPT,5.3,0.4,*79'];
    const link = listen({ checksum: 'xor', pattern: 'SDDPT,(?<value>[^,]*),0\\.4,', ignoreLines: '\\$(?!SDDPT).*' });
    link.lines(...lines);
    const depths = lines.filter((line) => line.startsWith('$SDDPT'));
    expect(link.values()).toEqual(depths.map((line) => Number(line.split(',')[1])));
    expect(link.faults()).toEqual([]);
    expect(link.dropped()).toHaveLength(lines.length - depths.length);
  });
});
