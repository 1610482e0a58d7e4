import type { ModbusTable } from '../../drivers/modbus-values.js';

/** One stretch of registers, read several times. */
export interface RegisterSeries {
  readonly unitId: number;
  readonly table: ModbusTable;
  /** As on the line, from 0. */
  readonly start: number;
  /** Registers. */
  readonly count: number;
  readonly rounds: readonly { readonly time: number; readonly bytes: Uint8Array }[];
}

/** Registers from `from` to `to`, both read. */
export interface RegisterRange {
  readonly from: number;
  readonly to: number;
}
