import { describe, expect, it } from 'vitest';
import { parseScaling } from '../../src/calibration/reading-scale.js';
import { readPoints, type PointOptions } from '../../src/calibration/read-points.js';

const read = (text: string | Uint8Array, options: PointOptions = {}) => readPoints(typeof text === 'string' ? new TextEncoder().encode(text) : text, 'p.csv', options);
const pairs = (text: string | Uint8Array, options?: PointOptions) => read(text, options).points.map(({ reference, reading }) => [reference, reading]);
const scaling = (text: string) => {
  const parsed = parseScaling(text);
  if (parsed === null) throw new Error(`'${text}' is no scaling`);
  return parsed;
};

describe('tables of points', () => {
  it.each([
    ['plain', 'reference_bar,reading_bar\n0,0.3\n120,120.5\n240,240.7\n'],
    ['reading first, other words, brackets', 'Indicated [bar],Standard [bar]\n0.3,0\n120.5,120\n240.7,240\n'],
    ['semicolons and decimal commas, German', 'Referenz (bar);Anzeige (bar)\r\n0;0,3\r\n120;120,5\r\n240;240,7\r\n'],
    ['tabs, a byte order mark, a title, a line of units', '\ufeffDead-weight tester, day 2\n\nreference\treading\nbar\tbar\n0\t0.3\n120\t120.5\n240\t240.7\n'],
    ['a number of the point, remarks, blank rows', 'point,reference_bar,reading_bar\n1,0,0.3\n# after a pause\n\n2,120,120.5\n3,240,240.7\n'],
    ['units in the cells', 'reference_bar,reading_bar\n0 bar,0.3 bar\n120 bar,120.5 bar\n240 bar,240.7 bar\n'],
    ['quotes', '"reference_bar";"reading_bar"\n"0";"0,3"\n"120";"120,5"\n"240";"240,7"\n'],
    ['only one of two columns known', 'pressure_bar,reading_bar\n0,0.3\n120,120.5\n240,240.7\n'],
  ])('%s', (_what, text) => expect(pairs(text)).toEqual([[0, 0.3], [120, 120.5], [240, 240.7]]));

  it('takes both columns in units of their own', () => {
    const [first] = pairs('reference_psi,reading_MPa\n1000,6.9\n2000,13.8\n3000,20.7\n');
    // NIST SP 811: 1 psi = 6894.757 Pa.
    expect(first?.[0]).toBeCloseTo(68.94757, 4);
    expect(first?.[1]).toBe(69);
  });

  it('takes readings that are no pressure by the scaling of the channel', () => {
    expect(pairs('reference_bar,output_mA\n0,4.01\n300,12\n600,20\n', { scaling: scaling('4..20 mA = 0..600 bar') })).toEqual([[0, expect.closeTo(0.375, 9)], [300, 300], [600, 600]]);
  });

  it('leaves out rows without a value and says so', () => {
    const { points, notes } = read('reference_bar,reading_bar,remark\n0,0.3,\n120,,bubble\n240,240.7,\n');
    expect(points.map(({ line }) => line)).toEqual([2, 4]);
    expect(notes).toContain('line 3: left out, as the reading is empty');
  });

  it('reads a column of directions', () => {
    const { points } = read('direction,reference_bar,reading_bar\nup,0,0\nup,100,100\ndown,100,101\n');
    expect(points.map(({ direction }) => direction)).toEqual(['up', 'up', 'down']);
  });

  it('takes what an option settles', () => {
    expect(pairs('a,b\n1,1.5\n2,2.5\n', { referenceColumn: 'b', readingColumn: '1', referenceUnit: 'bar', readingUnit: 'MPa' })).toEqual([[1.5, 10], [2.5, 20]]);
    expect(pairs('reference_bar;reading_bar\n1,200;1,300\n', { decimal: 'comma' })).toEqual([[1.2, 1.3]]);
  });

  it.each<[string, string, PointOptions, string]>([
    ['an empty file', '', {}, 'p.csv: the file is empty'],
    ['words', 'hello\nworld\n', {}, 'p.csv: no row holds two numbers'],
    ['columns that may be anything', 'a_bar,b_bar\n1,2\n2,3\n', {}, "(columns: 'a_bar' and 'b_bar'); settle it with --reference-column NAME and --reading-column NAME"],
    ['two readings', 'reference_bar,reading_1_bar,reading_2_bar\n1,2,3\n2,3,4\n', {}, 'settle it with --reference-column NAME'],
    ['no unit', 'reference,reading\n1,2\n2,3\n', {}, "column 'reference' has no unit; write it into the header, such as 'reference_bar', or settle it with --reference-unit bar"],
    ['a signal without a scaling', 'reference_bar,output_mA\n0,4\n300,12\n', {}, "the reading is in mA, which is no pressure; say what it stands for as the channel does, for example --scaling '4..20 mA = 0..600 bar'"],
    ['a scaling of another signal', 'reference_bar,output_V\n0,4\n300,12\n', { scaling: scaling('4..20 mA = 0..600 bar') }, 'the reading is in V and --scaling is for mA'],
    ['a reference that is no pressure', 'reference_mA,reading_bar\n4,0\n12,300\n', {}, 'the reference is in mA; it should be a pressure'],
    ['a word among the numbers', 'reference_bar,reading_bar\n0,0.1\n120,OL\n240,240\n', {}, "p.csv: line 3: 'OL' in column 'reading_bar' is not a number"],
    ['another unit in a cell', 'reference_bar,reading_bar\n0 bar,0.1 bar\n120 bar,1740 psi\n', {}, "line 3: '1740 psi' in column 'reading_bar' should be in bar"],
    ['a comma that may be either', 'reference_bar;reading_bar\n1,200;1,300\n', {}, 'settle it with --decimal comma (or point)'],
    ['a direction that is none', 'direction,reference_bar,reading_bar\nup,0,0\nsideways,100,100\n', {}, "line 3: 'sideways' should be up or down"],
    ['a column that is not there', 'reference_bar,reading_bar\n0,0.1\n1,1\n', { readingColumn: 'shown' }, "there is no column 'shown' for --reading-column; the columns are 'reference_bar' and 'reading_bar'"],
  ])('refuses %s in one sentence', (_what, text, options, sentence) => expect(() => read(text, options)).toThrow(sentence));
});

describe('scaling', () => {
  it.each([
    ['4..20 mA = 0..600 bar', [4, 0, 20, 600]],
    ['0 to 10 V = 0 to 10 MPa', [0, 0, 10, 100]],
    ['20..4 mA = 0..600 bar', [20, 0, 4, 600]],
  ])('%s', (text, [from, low, to, high]) =>
    expect(scaling(text)).toMatchObject({ lower: { reading: from, pressure: low }, upper: { reading: to, pressure: high } }));

  it.each(['4..20 mA', '4..20 = 0..600 bar', '4..4 mA = 0..600 bar', '4..20 mA = 0..600', '4..20 mA = 600..600 bar', '4..20 apples = 0..600 bar'])('refuses %s', (text) => expect(parseScaling(text)).toBeNull());
});
