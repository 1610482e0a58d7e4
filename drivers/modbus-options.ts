import { z } from 'zod';
import { quantity } from '../src/core/quantity.js';
import { wholeNumber } from './line-options.js';
import { planBlocks, type Block } from './modbus-blocks.js';
import { isBitTable, sizeOf, valueSchema } from './modbus-values.js';

const seconds = (min: number, max: number, meaning: string, example: string) => quantity({ dimension: 'time', min, max, meaning, example });
const base = 'should be 0 or 1: 0 where the manual gives the addresses that go over the line, 1 where its first register is number 1 (40001 is then register 1)';

/** What is asked and how often; the same for RTU and TCP. */
export const modbusShape = {
  unitId: wholeNumber(0, 255, 'the address of the slave, often 1').default(1),
  addressBase: z.union([z.literal(0), z.literal(1)], { error: (issue) => (issue.input === undefined ? `missing; ${base}` : base) }),
  every: seconds(0.002, 3600, 'the fixed grid on which all values are read', '100 ms'),
  answerWithin: seconds(0.005, 60, 'no answer by then is a missing reading', '300 ms').default(0.3),
  readAcross: wholeNumber(0, 120, 'how many addresses nobody asked for may be read to spare a question').default(0),
  settleAfterOpen: seconds(0, 60, 'nothing is asked sooner after opening', '2 s').default(0),
  values: z.array(valueSchema, { error: 'should be a list of the values to read' }).min(1, { error: 'should list at least one value' }),
} as const;

export type ModbusOptions = z.output<z.ZodObject<typeof modbusShape>>;

/** Options that are each possible but cannot all be meant; for `superRefine`. */
export function refuseModbusContradictions(o: ModbusOptions, context: z.RefinementCtx): void {
  const names = new Map<string, number>();
  o.values.forEach((value, i) => {
    const refuse = (key: string, message: string) => context.addIssue({ code: 'custom', path: ['values', i, key], message });
    const before = names.get(value.value);
    if (before !== undefined) refuse('value', `'${value.value}' is the name of values.${before}, too; give each value a name of its own`);
    names.set(value.value, i);
    const start = value.address - o.addressBase;
    if (start < 0) refuse('address', 'should be 1 or more, because addressBase is 1');
    if (start + sizeOf(value) > 65_536) refuse('address', `${value.address} leaves no room for a value of ${sizeOf(value)} registers`);
    if ((value.unitId ?? o.unitId) === 0 && !isTcp(o)) refuse('unitId', '0 is the broadcast address, which no slave answers');
  });
}

/** 0 is a slave of its own on TCP, where devices without slaves behind them often have it. */
const isTcp = (o: object): boolean => 'driver' in o && o.driver === 'modbus-tcp';

export const blocksOf = (o: ModbusOptions): Block[] => planBlocks(o.values, o);

/** `2 blocks: holding 0 to 7, discrete 0` for logs and the check of a file. */
export const describeBlocks = (o: ModbusOptions): string =>
  blocksOf(o)
    .map(({ unitId, table, start, count }) => `slave ${unitId} ${table} ${start}${count > 1 ? ` to ${start + count - 1}` : ''}${isBitTable(table) ? '' : ' (registers)'}`)
    .join(', ');
