import { firstValueFrom, ReplaySubject, type Subscription } from 'rxjs';
import type { Clock } from '../../drivers/clock.js';
import { frameSilence, RtuFraming } from '../../drivers/modbus-rtu-framing.js';
import { TcpFraming } from '../../drivers/modbus-tcp-framing.js';
import { isBitTable, type ModbusTable } from '../../drivers/modbus-values.js';
import { LinkError, type Connection, type Target, type Wiring } from '../../drivers/wiring.js';
import { ModbusAsker } from './modbus-asker.js';
import { findUnits, readable, readRounds, type FoundUnit, type ScanPace } from './modbus-scan.js';
import type { Wanted } from './plausible.js';
import { registerFits, type RegisterFit } from './register-fit.js';
import type { RegisterRange, RegisterSeries } from './registers.js';
import { modbusSettings, type KnownSettings } from './settings-to-try.js';
import { serialTargetOf, shownSettings, type SerialSettings } from './sniff-target.js';

export interface ModbusSniff {
  readonly target: { readonly kind: 'serial'; readonly path: string } | { readonly kind: 'tcp'; readonly host: string; readonly port: number };
  /** RTU frames through a device server, in place of Modbus TCP. */
  readonly rtuOverTcp: boolean;
  readonly known: KnownSettings;
  readonly wanted: Wanted;
  readonly unitIds: readonly number[];
  readonly ranges: readonly RegisterRange[];
  /** How often every register is read, and s between. */
  readonly rounds: number;
  readonly every: number;
  /** s, no answer by then is none. */
  readonly answerWithin: number;
  /** s in all. */
  readonly limit: number;
}

/** What one setting gave. */
export interface ModbusAttempt {
  readonly settings: SerialSettings | null;
  readonly units: readonly FoundUnit[];
  /** Bytes that came and were no answer. */
  readonly stray: number;
  readonly failed?: string;
}

export interface ModbusHeard {
  readonly attempts: readonly ModbusAttempt[];
  /** Those at which a slave answers; `null` on TCP or where none did. */
  readonly settings: SerialSettings | null;
  readonly units: readonly FoundUnit[];
  /** True where every unit id answers: mostly a device that does not look at it. Only the first is read then. */
  readonly anyUnit: boolean;
  /** Input registers that hold the same as the holding registers: not looked at twice. */
  readonly alike: readonly RegisterSeries[];
  readonly series: readonly RegisterSeries[];
  readonly bits: readonly BitSeries[];
  readonly fits: readonly RegisterFit[];
  /** s, the longest that an answer took. */
  readonly slowest: number;
  /** Why the link ended in the middle, where it did. */
  readonly lost?: string;
}

/** Coils or discrete inputs: 0 and 1 as they came last, and whether one of them moved. */
export interface BitSeries {
  readonly unitId: number;
  readonly table: ModbusTable;
  readonly start: number;
  readonly states: readonly (0 | 1)[];
  readonly moved: boolean;
}

const contactRange: RegisterRange = { from: 0, to: 15 };

/**
 * Asks for registers until it is clear which of them may be the pressure. Only functions 1 to 4 are ever sent.
 * @throws LinkError when the first opening fails: then nothing can be said
 */
export async function sniffModbus(o: ModbusSniff, wiring: Wiring, clock: Clock, signal: AbortSignal, tell: (text: string) => void): Promise<ModbusHeard> {
  const end = clock.now() + o.limit;
  const queue: (SerialSettings | null)[] = o.target.kind === 'serial' ? modbusSettings(o.known) : [null];
  const attempts: ModbusAttempt[] = [];
  for (const settings of queue) {
    if (signal.aborted || clock.now() >= end) break;
    const where = settings === null ? '' : `${shownSettings(settings)}, `;
    const pace: ScanPace = {
      over: () => signal.aborted || clock.now() >= end,
      now: () => clock.now(),
      wait: (seconds) => pause(clock, seconds, signal),
      tell: (text) => tell(`${where}${text}`),
    };
    const target: Target = o.target.kind === 'tcp' ? o.target : serialTargetOf(o.target.path, settings ?? { baudRate: 19_200, dataBits: 8, parity: 'even', stopBits: 1 });
    const link = new ReplaySubject<Connection>(1);
    const subscription: Subscription = wiring.open(target).subscribe(link);
    try {
      const connection = await firstValueFrom(link);
      const framing = o.target.kind === 'tcp' && !o.rtuOverTcp ? new TcpFraming() : new RtuFraming(frameSilence(settings?.baudRate ?? 9600));
      const asker = new ModbusAsker(connection, framing, clock, o.answerWithin);
      try {
        const { units, stray } = await findUnits(asker, o.unitIds, pace);
        attempts.push({ settings, units, stray, ...(asker.ended !== null && { failed: asker.ended }) });
        if (units.length > 0) {
          const found = await read(asker, units, o, pace);
          return { attempts, settings, ...found, ...(asker.ended !== null && { lost: asker.ended }) };
        }
      } finally {
        asker.close();
      }
    } catch (error) {
      if (!(error instanceof LinkError) || attempts.every(({ failed }) => failed !== undefined)) throw error;
      attempts.push({ settings, units: [], stray: 0, failed: error.message });
    } finally {
      subscription.unsubscribe();
    }
  }
  return { attempts, settings: null, units: [], anyUnit: false, series: [], alike: [], bits: [], fits: [], slowest: 0 };
}

async function read(asker: ModbusAsker, units: readonly FoundUnit[], o: ModbusSniff, pace: ScanPace): Promise<Omit<ModbusHeard, 'attempts' | 'settings'>> {
  const tcp = o.target.kind === 'tcp' && !o.rtuOverTcp;
  const anyUnit = tcp && units.length > 3 && units.length === o.unitIds.length;
  // On TCP 0 and 255 mean the device itself, whatever its own id (MODBUS Messaging on TCP/IP V1.0b, 4.4.2).
  const numbered = units.filter(({ unitId }) => !tcp || (unitId > 0 && unitId < 255));
  const asked = anyUnit ? units.slice(0, 1) : numbered.length > 0 ? numbered : units.slice(0, 1);
  const stretches: { unitId: number; table: ModbusTable; start: number; count: number }[] = [];
  for (const { unitId } of asked) {
    for (const table of ['holding', 'input', 'discrete', 'coil'] as const) {
      const ranges = isBitTable(table) ? [contactRange] : o.ranges;
      for (const { from, to } of await readable(asker, unitId, table, ranges, pace)) stretches.push({ unitId, table, start: from, count: to - from + 1 });
    }
  }
  const { series, slowest } = await readRounds(asker, stretches, o.rounds, o.every, pace);
  const every = series.filter(({ table, rounds }) => !isBitTable(table) && rounds.length > 0);
  const alike = every.filter((one) => one.table === 'input' && every.some((other) => other.table === 'holding' && holdsSame(other, one)));
  const registers = every.filter((one) => !alike.includes(one));
  return { units, anyUnit, alike, series: registers, bits: series.filter(({ table }) => isBitTable(table)).flatMap(bitsOf), fits: registerFits(registers, o.wanted), slowest };
}

/** The same registers move, and what does not move is equal: what moves may have moved between the two questions. */
function holdsSame(a: RegisterSeries, b: RegisterSeries): boolean {
  if (a.unitId !== b.unitId || a.start !== b.start || a.count !== b.count) return false;
  const [one, two] = [wordsOf(a), wordsOf(b)];
  return one.some((word) => word !== 0) && one.every((word, i) => word === two[i]);
}

/** Each register; `moves` where it was not always the same. */
function wordsOf({ count, rounds }: RegisterSeries): (number | 'moves')[] {
  return Array.from({ length: count }, (_, i) => {
    const seen = new Set(rounds.map(({ bytes }) => (bytes[i * 2] ?? 0) * 256 + (bytes[i * 2 + 1] ?? 0)));
    return seen.size > 1 ? 'moves' : ([...seen][0] ?? 0);
  });
}

function bitsOf({ unitId, table, start, count, rounds }: RegisterSeries): BitSeries[] {
  const last = rounds.at(-1);
  if (last === undefined) return [];
  const at = (bytes: Uint8Array, i: number): 0 | 1 => ((((bytes[i >> 3] ?? 0) >> (i & 7)) & 1) === 1 ? 1 : 0);
  const each = Array.from({ length: count }, (_, i) => i);
  return [{ unitId, table, start, states: each.map((i) => at(last.bytes, i)), moved: each.some((i) => new Set(rounds.map(({ bytes }) => at(bytes, i))).size > 1) }];
}

function pause(clock: Clock, seconds: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const cancel = clock.after(seconds, () => {
      signal.removeEventListener('abort', stop);
      resolve();
    });
    const stop = (): void => {
      cancel();
      resolve();
    };
    signal.addEventListener('abort', stop, { once: true });
  });
}
