import { describe, expect, it } from 'vitest';
import { channelKeys, channelSchema } from '../../src/acquisition/channel-config.js';
import { conditioning } from '../../src/acquisition/conditioning.js';
import { problemsOf } from '../../src/core/problems.js';
import { Flag } from '../../src/core/trace.js';

const channel = (more: Readonly<Record<string, unknown>> = {}) =>
  ({ input: { driver: 'serial-line', path: '/dev/ttyBENCH' }, unit: 'bar', range: { upper: '600 bar' }, ...more });
const condition = (more: Readonly<Record<string, unknown>>, value: number, unit: string | null = null) =>
  conditioning(channelSchema.parse(channel(more)))({ kind: 'reading', time: 0, channel: 'pressure', raw: '', value, unit });
const loop = { unit: 'mA', scaling: { lower: { reading: 4, pressure: '0 bar' }, upper: { reading: 20, pressure: '600 bar' } } };

describe('conditioning', () => {
  // NAMUR NE 43 limits 3.6, 3.8, 20.5, 21.0 mA; scaling by two points: 12 mA is half the span, 3.8 mA -1.25 %, 20.5 mA 103.125 %.
  it.each([
    [3.2, Flag.fault, NaN],
    [3.6, Flag.fault, NaN],
    [3.61, Flag.underRange, NaN],
    [3.79, Flag.underRange, NaN],
    [3.8, Flag.good, -7.5],
    [4, Flag.good, 0],
    [12, Flag.good, 300],
    [20, Flag.good, 600],
    [20.49, Flag.good, 618.375],
    [20.5, Flag.saturated, 618.75],
    [20.99, Flag.saturated, 637.125],
    [21, Flag.fault, NaN],
    [0, Flag.fault, NaN],
    [NaN, Flag.fault, NaN],
  ])('%d mA on a 4-20 mA loop has flags %d and %d bar', (current, flags, pressure) => {
    const sample = condition(loop, current);
    expect(sample.flags).toBe(flags);
    if (Number.isNaN(pressure)) expect(sample.pressure).toBeNaN();
    else expect(sample.pressure).toBeCloseTo(pressure, 9);
  });
  it('a 0-20 mA input has no such limits', () => {
    const zero = { unit: 'mA', scaling: { lower: { reading: 0, pressure: '0 bar' }, upper: { reading: 20, pressure: '600 bar' } } };
    expect(condition(zero, 3.2)).toMatchObject({ flags: Flag.good, pressure: 96 });
  });

  // NIST SP 811 (2008), appendix B.8: 1 psi = 6.894 757 kPa.
  it.each([['psi', 8000, 551.58056], ['MPa', 55, 550], ['kgf/cm2', 560, 549.1724], ['kPa', 55_000, 550]])('%s is turned into bar', (unit, value, bar) => {
    expect(condition({ unit }, value).pressure).toBeCloseTo(bar, 4);
  });

  it('a unit on the line that is not the channel\'s is a fault, not a guess; the same in other letters is not', () => {
    expect(condition({}, 55, 'MPa')).toMatchObject({ flags: Flag.unreadable, fault: 'wrong-unit' });
    expect(condition({}, 55, 'G')).toMatchObject({ fault: 'wrong-unit' });
    expect(condition({}, 55, 'BAR')).toEqual({ pressure: 55, flags: Flag.good });
    expect(condition({}, 55, null)).toEqual({ pressure: 55, flags: Flag.good });
  });

  // FC-17: https://github.com/pyhys/minimalmodbus/issues/24
  it.each([[-0.5, true], [-16, true], [-16.1, false], [900, true], [900.1, false], [6553.1, false], [Infinity, false], [NaN, false]])(
    'FC-17: %d bar on a 600 bar channel is plausible: %s',
    (value, plausible) => expect(condition({}, value).flags).toBe(plausible ? Flag.good : Flag.implausible),
  );

  it('the certificate corrects by line and square, after scaling', () => {
    const calibration = { certificate: 'C-17', date: '2026-03-01', due: '2027-03-01', serial: 'T-4', uncertainty: '0.8 bar', coefficients: { constant: '0.3 bar', linear: 1.002, quadratic: -1e-6 } };
    expect(condition({ ...loop, calibration }, 12).pressure).toBeCloseTo(0.3 + 1.002 * 300 - 1e-6 * 300 ** 2, 9);
    const { coefficients, ...bare } = calibration;
    expect(coefficients).toBeDefined();
    expect(condition({ calibration: bare }, 300.1).pressure).toBe(300.1);
  });

  it('a plain reading in bar stays the very number that was sent', () => {
    for (const value of [0.1, 350.3, 551.2, 599.99]) expect(condition({}, value).pressure).toBe(value);
  });
});

describe('channel configuration', () => {
  const problems = (more: Readonly<Record<string, unknown>>) => {
    const input = channel(more);
    const found = channelSchema.safeParse(input);
    return found.success ? [] : problemsOf(found.error, input, channelKeys).map(({ place, text }) => `${place}: ${text}`);
  };
  const calibration = { certificate: 'C-17', date: '2026-03-01', due: '2027-03-01', serial: 'T-4', uncertainty: '0.8 bar' };

  it('needs input, unit and range only', () => expect(problems({})).toEqual([]));
  it.each<[Record<string, unknown>, RegExp]>([
    [{ unit: 'furlong' }, /^unit: 'furlong' should be one of bar, mbar/],
    [{ unit: undefined }, /^unit: missing; it must be/],
    [{ unit: 'mA' }, /^scaling: missing; mA is no pressure/],
    [{ range: { upper: '600' } }, /^range.upper: '600' has no unit/],
    [{ range: { lower: '700 bar', upper: '600 bar' } }, /^range: lower should be below upper/],
    [{ ...loop, scaling: { lower: { reading: 4, pressure: '0 bar' }, upper: { reading: 4, pressure: '600 bar' } } }, /^scaling: lower and upper should have two different readings/],
    [{ calibration: { ...calibration, due: '01.03.2027' } }, /^calibration.due: should be a day such as 2027-03-01/],
    [{ calibration: { ...calibration, due: '2027-02-30' } }, /^calibration.due: should be a day/],
    [{ calibration: { ...calibration, serial: ' ' } }, /^calibration.serial: should be the serial number of the transducer/],
    [{ calibration: { ...calibration, serial: undefined } }, /^calibration.serial: missing; it must be/],
    [{ calibration: { ...calibration, coefficients: { linear: 10 } } }, /^calibration.coefficients.linear: should be 0.5 to 2/],
    [{ resolutoin: '0.1 bar' }, /^resolutoin: unknown key; did you mean 'resolution'/],
    [{ input: { driver: 'serial-line', path: '/dev/ttyBENCH', baudrate: 9600 } }, /^input.baudrate: unknown key; did you mean 'baudRate'/],
    [{ input: { driver: 'serial' } }, /^input.driver: 'serial' is no driver; known are serial-line, tcp-line, modbus-rtu, modbus-tcp, replay/],
  ])('%j is refused in one sentence', (more, sentence) => {
    const found = problems(more);
    expect(found).toHaveLength(1);
    expect(found[0]).toMatch(sentence);
  });
});
