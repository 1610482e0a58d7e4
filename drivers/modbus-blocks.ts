import { isBitTable, sizeOf, tables, type ModbusTable, type ModbusValue } from './modbus-values.js';

/** One question: a stretch of one table of one slave, with the values that lie in it. */
export interface Block {
  readonly unitId: number;
  readonly table: ModbusTable;
  /** 1 to 4. */
  readonly functionCode: number;
  /** As on the line, from 0. */
  readonly start: number;
  /** Registers or coils. */
  readonly count: number;
  readonly values: readonly Placed[];
}

/** A value and where in its block it lies, in registers or coils. */
export interface Placed {
  readonly value: ModbusValue;
  readonly at: number;
}

/** MODBUS Application Protocol V1.1b3, 6.1 to 6.4: what one answer may hold. */
const most = { registers: 125, bits: 2000 } as const;

export interface PlanOptions {
  readonly unitId: number;
  readonly addressBase: 0 | 1;
  /** Registers or coils that nobody asked for and that may be read over to spare a question. */
  readonly readAcross: number;
}

/** As few questions as possible, in the order in which the values were first named. */
export function planBlocks(values: readonly ModbusValue[], options: PlanOptions): Block[] {
  const groups = new Map<string, { unitId: number; table: ModbusTable; values: ModbusValue[] }>();
  for (const value of values) {
    const unitId = value.unitId ?? options.unitId;
    const key = `${unitId} ${value.table}`;
    const group = groups.get(key);
    if (group === undefined) groups.set(key, { unitId, table: value.table, values: [value] });
    else group.values.push(value);
  }
  return [...groups.values()].flatMap(({ unitId, table, values: all }) => {
    const limit = isBitTable(table) ? most.bits : most.registers;
    const blocks: { start: number; end: number; values: { value: ModbusValue; start: number }[] }[] = [];
    for (const value of all.toSorted((a, b) => a.address - b.address)) {
      const start = value.address - options.addressBase;
      const end = start + sizeOf(value);
      const last = blocks.at(-1);
      if (last !== undefined && start <= last.end + options.readAcross && Math.max(end, last.end) - last.start <= limit) {
        last.end = Math.max(last.end, end);
        last.values.push({ value, start });
      } else blocks.push({ start, end, values: [{ value, start }] });
    }
    return blocks.map((block) => ({
      unitId, table, functionCode: tables[table], start: block.start, count: block.end - block.start,
      values: block.values.map(({ value, start }) => ({ value, at: start - block.start })),
    }));
  });
}
