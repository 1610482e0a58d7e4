import { byteOrders, decodeValue, sizeOf, valueSchema, type ByteOrder, type ModbusTable, type ModbusValue, type ValueType } from '../../drivers/modbus-values.js';
import type { SignalUnit } from '../../drivers/signal-unit.js';
import { barOf, plausibility, unitsToTry, type Wanted } from './plausible.js';
import type { RegisterSeries } from './registers.js';

/** One way to read some registers as a pressure. */
export interface RegisterFit {
  readonly unitId: number;
  readonly table: ModbusTable;
  /** As on the line, from 0. */
  readonly address: number;
  readonly type: ValueType;
  readonly order: ByteOrder;
  readonly scale: number;
  readonly unit: SignalUnit;
  /** In the unit of the instrument. */
  readonly readings: readonly number[];
  /** bar */
  readonly pressures: readonly number[];
  readonly score: number;
  readonly says: string;
  /** Other ways to read the same registers that are nearly as likely. */
  readonly others: readonly string[];
  /** The registers as they came last, hex. */
  readonly raw: string;
}

/** How often transmitters use each type, order and step for a pressure, roughly (common practice); 1 is the most usual. */
const types: readonly (readonly [ValueType, number])[] = [['float32', 1], ['float64', 0.9], ['int32', 0.8], ['uint32', 0.75], ['int16', 0.8], ['uint16', 0.7]];
const orderWorth: Readonly<Record<ByteOrder, number>> = { ABCD: 1, CDAB: 0.97, BADC: 0.85, DCBA: 0.85 };
type Scales = readonly (readonly [scale: number, worth: number])[];
const shortScales: Scales = [[0.1, 1], [1, 0.95], [0.01, 0.95], [0.001, 0.7], [10, 0.5]];
const longScales: Scales = [[0.001, 1], [0.01, 0.97], [0.1, 0.95], [1, 0.85], [10, 0.4]];
const noScale: Scales = [[1, 1]];
const unitWorth: Readonly<Partial<Record<SignalUnit, number>>> = { bar: 1, psi: 0.9, MPa: 0.85, kPa: 0.8 };
/** Share of the best score from which another reading of the same registers is told. */
const close = 0.85;
/** What rises by nearly equal whole steps counts something. */
const counterWorth = 0.2;
/** A whole number of a few steps says little: flags, counts and upper halves look like that, too. */
const manySteps = 200;
const fewStepsWorth = 0.5;
/** Values of several registers mostly begin at an even address. */
const oddWorth = 0.93;
/** From this score on a bench file is written for it; a register that is always 0 stays below. */
export const likelyEnough = 0.25;
/** Two registers that say the same are worth more than one. */
const agreedWorth = 1.3;
/** Ways that are looked at in the end. */
const most = 120;
/** What shares registers with a float64 that stands on its own is mostly a piece of it. */
const pieceWorth = 0.5;

interface Reader {
  readonly value: ModbusValue;
  readonly type: ValueType;
  readonly order: ByteOrder;
  readonly worth: number;
}
const readers: readonly Reader[] = types.flatMap(([type, typeWorth]) =>
  byteOrders
    .filter((order) => !type.endsWith('16') || order === 'ABCD' || order === 'BADC')
    .map((order) => ({ value: valueSchema.parse({ address: 0, type, order }), type, order, worth: typeWorth * orderWorth[order] })),
);

/** Which registers may hold the pressure and how they are read, the likeliest first; each register is in one answer only. */
export function registerFits(series: readonly RegisterSeries[], wanted: Wanted): RegisterFit[] {
  const found = series.flatMap((one) => Array.from({ length: one.count }, (_, at) => fitsAt(one, at, wanted)).flat());
  const doubles = found.filter((fit) => fit.type === 'float64' && standsAlone(fit));
  const alone = found
    .map((fit) => {
      const piece = fit.type === 'float64' ? !doubles.includes(fit) : doubles.some((double) => double.score > 0.3 && overlap(double, fit));
      return piece ? { ...fit, score: fit.score * pieceWorth } : fit;
    })
    .toSorted((a, b) => b.score - a.score);
  const likely = alone.slice(0, most);
  const all = likely.map((fit) => (likely.some((other) => agree(fit, other)) ? { ...fit, score: fit.score * agreedWorth } : fit)).toSorted((a, b) => b.score - a.score);
  const kept: (Omit<RegisterFit, 'others'> & { others: string[] })[] = [];
  for (const fit of all) {
    const taken = kept.find((other) => overlap(other, fit));
    if (taken === undefined) kept.push({ ...fit, others: [] });
    else if (fit.score >= close * taken.score && taken.others.length < 4) taken.others.push(shownFit(fit));
  }
  return kept;
}

/** `float32 CDAB at holding 0 (unit id 1), bar` */
export const shownFit = ({ type, order, table, address, unitId, scale, unit }: Pick<RegisterFit, 'type' | 'order' | 'table' | 'address' | 'unitId' | 'scale' | 'unit'>): string =>
  `${type}${type.endsWith('16') && order === 'ABCD' ? '' : ` ${order}`} at ${table} ${address} (unit id ${unitId})${scale === 1 ? '' : `, times ${scale}`}, ${unit}`;

const overlap = (a: Omit<RegisterFit, 'others'>, b: Omit<RegisterFit, 'others'>): boolean =>
  a.unitId === b.unitId && a.table === b.table && a.address < b.address + sizeOf(b) && b.address < a.address + sizeOf(a);

/** True where registers apart from each other and of another type moved together: the same pressure, written twice. */
function agree(a: Omit<RegisterFit, 'others'>, b: Omit<RegisterFit, 'others'>): boolean {
  if (a.type === b.type || a.unitId !== b.unitId || a.unit !== b.unit || overlap(a, b)) return false;
  const range = Math.max(...a.pressures) - Math.min(...a.pressures);
  return a.pressures.length > 2 && a.pressures.every((pressure, i) => Math.abs(pressure - (b.pressures[i] ?? NaN)) < range / 20);
}

/**
 * A float32 of 2 to 6 with anything behind it reads as a float64 of 2 to 2000. The lower half of a real one is neither
 * zero nor a sensible float32.
 */
function standsAlone({ raw, order }: Pick<RegisterFit, 'raw' | 'order'>): boolean {
  const lower = Buffer.from(order === 'ABCD' || order === 'BADC' ? raw.slice(8) : raw.slice(0, 8), 'hex');
  if (lower.every((byte) => byte === 0)) return false;
  return byteOrders.every((each) => {
    const said = decodeValue(valueSchema.parse({ address: 0, type: 'float32', order: each }), lower);
    return !('value' in said) || said.value === 0 || Math.abs(said.value) < 1e-3 || Math.abs(said.value) > 1e5;
  });
}

function fitsAt({ unitId, table, start, count, rounds }: RegisterSeries, at: number, wanted: Wanted): Omit<RegisterFit, 'others'>[] {
  return readers.flatMap(({ value, type, order, worth }) => {
    const size = sizeOf(value);
    if (at + size > count || rounds.length === 0) return [];
    const plain: number[] = [];
    for (const { bytes } of rounds) {
      const said = decodeValue(value, bytes.subarray(at * 2, (at + size) * 2));
      if (!('value' in said)) return [];
      plain.push(said.value);
    }
    const whole = type.startsWith('int') || type.startsWith('uint');
    const last = rounds.at(-1)?.bytes.subarray(at * 2, (at + size) * 2) ?? new Uint8Array(0);
    const raw = Buffer.from(last).toString('hex').toUpperCase();
    const counts = whole && counter(plain) ? counterWorth : 1;
    const steps = plain.reduce((most, number) => Math.max(most, Math.abs(number)), 0);
    const few = whole ? Math.min(1, fewStepsWorth + ((1 - fewStepsWorth) * steps) / manySteps) : 1;
    return (whole ? (size === 1 ? shortScales : longScales) : noScale).flatMap(([scale, scaleWorth]) => {
      // Rounded as a scale of tenths cannot be kept by a double: 3502 x 0.1 is 350.20000000000005.
      const readings = plain.map((number) => Number((number * scale).toPrecision(12)));
      return unitsToTry(wanted).flatMap((unit) => {
        const pressures = readings.map((reading) => barOf(reading, unit, wanted));
        if (!pressures.every((pressure) => pressure !== null)) return [];
        const step = whole ? Math.abs(barOf(scale, unit, wanted) ?? 0) - Math.abs(barOf(0, unit, wanted) ?? 0) : 0;
        const { score, says } = plausibility(pressures, wanted, Math.max(0, step));
        if (score === 0) return [];
        return { unitId, table, address: start + at, type, order, scale, unit, readings, pressures, score: score * worth * scaleWorth * counts * few * (unitWorth[unit] ?? 0.8) * (size > 1 && (start + at) % 2 === 1 ? oddWorth : 1), says: counts < 1 ? `${says}; it only counts up` : says, raw };
      });
    });
  });
}

function counter(values: readonly number[]): boolean {
  const steps = values.slice(1).map((value, i) => value - (values[i] ?? value));
  const largest = Math.max(...steps);
  return steps.length >= 3 && Math.min(...steps) > 0 && largest <= 2 * Math.min(...steps) + 2;
}
