import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { mostAssemblies, parseSerials } from '../../src/records/assembly-serials.js';

describe('serial numbers of assemblies', () => {
  it.each<[string, string[]]>([
    ['', []],
    [' , ;\n', []],
    ['A17-001', ['A17-001']],
    ['A17-001..006', ['A17-001', 'A17-002', 'A17-003', 'A17-004', 'A17-005', 'A17-006']],
    ['A17-001 … 003', ['A17-001', 'A17-002', 'A17-003']],
    ['A17-001..A17-003', ['A17-001', 'A17-002', 'A17-003']],
    ['A17-098..101', ['A17-098', 'A17-099', 'A17-100', 'A17-101']],
    ['9..11', ['9', '10', '11']],
    ['A17-001..3', ['A17-001', 'A17-002', 'A17-003']],
    ['7B..9B', ['7B', '8B', '9B']],
    ['A17-5..5', ['A17-5']],
    ['A17-001..002; B2,SN 0042\r\nC-9', ['A17-001', 'A17-002', 'B2', 'SN 0042', 'C-9']],
  ])('%j are %j', (text, serials) => expect(parseSerials(text)).toEqual(serials));

  it.each<[string, string]>([
    ['A17-006..001', "'A17-006..001' runs backward; the second number should be the larger one"],
    ['A17-001..900', `'A17-001..900' makes 900 assemblies; one run should name ${mostAssemblies} or fewer`],
    ['1..150, 201..350', `'201..350' makes more than ${mostAssemblies} assemblies; one run should name ${mostAssemblies} or fewer`],
    ['1..99999999999999999', "'1..99999999999999999' counts with more than 15 digits; write for example"],
    ['A17..B3', "'A17..B3' should end with a number, or with the same letters as it begins with; write for example 'A17-001..006' or 'A17-001, A17-004'"],
    ['ABC..7', "'ABC..7' has no number to count from; write for example"],
    ['1..2..3', "'1..2..3' has more than one range; write for example"],
    ['A1, A2, a1', "'a1' is named twice; each assembly should be named once"],
    ['A17-001..003, A17-002', "'A17-002' is named twice; each assembly should be named once"],
    ['A\u0007-1', "'A\u0007-1' contains signs that cannot be printed; type it again"],
    ['A\u202E1', "'A\u202E1' contains signs that cannot be printed; type it again"],
    ['x'.repeat(61), `'${'x'.repeat(61)}' has 61 characters; a serial number should have 60 or fewer`],
  ])('%j is refused: %s', (text, sentence) => expect(() => parseSerials(text)).toThrow(`job: assemblies: ${sentence}`));

  it('a range has each number once, in order, whatever its ends; it is never longer than allowed', () => {
    fc.assert(
      fc.property(fc.nat(2000), fc.nat(2 * mostAssemblies), fc.integer({ min: 1, max: 6 }), (from, more, digits) => {
        const text = `H-${String(from).padStart(digits, '0')}..${from + more}`;
        if (more >= mostAssemblies) {
          expect(() => parseSerials(text)).toThrow('or fewer');
          return;
        }
        const serials = parseSerials(text);
        expect(serials.map((serial) => Number(serial.slice(2)))).toEqual(Array.from({ length: more + 1 }, (_, i) => from + i));
      }),
    );
  });
});
