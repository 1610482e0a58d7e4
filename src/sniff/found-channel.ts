import { listPorts } from '../../drivers/ports.js';
import type { FoundChannel } from './bench-text.js';
import type { LineFit } from './line-fit.js';
import { upperOf, type Wanted } from './plausible.js';
import type { RegisterFit } from './register-fit.js';
import type { LineSniff } from './sniff-lines.js';
import type { ModbusHeard, ModbusSniff } from './sniff-modbus.js';
import type { SerialSettings } from './sniff-target.js';

/** s, usual grids of a bench. */
const grids: readonly number[] = [0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5];
const ms = (seconds: number): string => (seconds < 1 ? `${Math.round(seconds * 1000)} ms` : `${seconds} s`);
/** The next usual grid with room to spare. */
const gridFor = (slowest: number): number => grids.find((grid) => grid >= 2 * slowest) ?? 5;

type Place = { readonly kind: 'serial'; readonly path: string } | { readonly kind: 'tcp'; readonly host: string; readonly port: number };

/** How a bench file names the place; the adapter's serial number where it has one, because a number such as ttyUSB0 does not stay. */
export async function placeKeys(place: Place): Promise<Record<string, unknown>> {
  if (place.kind === 'tcp') return { host: place.host, port: place.port };
  const ports = await listPorts();
  const serial = ports.find(({ path }) => path === place.path)?.serial;
  return serial !== undefined && ports.filter((port) => port.serial === serial).length === 1 ? { match: { serial } } : { path: place.path };
}

const settingKeys = ({ baudRate, dataBits, parity, stopBits }: SerialSettings) => ({ baudRate, ...(dataBits === 7 && { dataBits }), parity, ...(stopBits === 2 && { stopBits }) });

const rangeOf = (wanted: Wanted, largest: number): Pick<FoundChannel, 'range' | 'rangeKnown'> => ({
  range: wanted.range ?? { lower: 0, upper: upperOf(wanted, largest) },
  rangeKnown: wanted.range !== undefined,
});

/** The channel of a bench file that reads the lines. */
export function lineChannel(fit: LineFit, o: LineSniff, place: Readonly<Record<string, unknown>>, settings: SerialSettings | null): FoundChannel {
  const driver = o.target.kind === 'serial' ? 'serial-line' : 'tcp-line';
  const options = Object.fromEntries(Object.entries(fit.options).filter(([key]) => key !== 'firstLine'));
  const poll = o.ask === undefined ? {} : { poll: { query: o.ask, every: '200 ms', answerWithin: '1 s' } };
  return {
    input: { driver, ...place, ...(settings !== null && settingKeys(settings)), ...poll, ...options },
    unit: fit.unit,
    unitKnown: fit.unitNamed || o.wanted.unit !== undefined,
    ...rangeOf(o.wanted, Math.max(0, ...fit.pressures.filter((pressure) => pressure !== null))),
    remarks: { ...(o.ask !== undefined && { every: 'how often it is asked: as often as the instrument can answer' }) },
  };
}

/** The channel of a bench file that reads the registers. */
export function registerChannel(fit: RegisterFit, o: ModbusSniff, place: Readonly<Record<string, unknown>>, heard: Pick<ModbusHeard, 'settings' | 'slowest' | 'anyUnit'>): FoundChannel {
  const tcp = o.target.kind === 'tcp' && !o.rtuOverTcp;
  const whole = fit.type.includes('int');
  return {
    input: {
      driver: tcp ? 'modbus-tcp' : 'modbus-rtu', ...place,
      ...(heard.settings !== null && { baudRate: heard.settings.baudRate, parity: heard.settings.parity, ...(heard.settings.stopBits === 2 && { stopBits: 2 }) }),
      unitId: fit.unitId, addressBase: 0, every: ms(gridFor(heard.slowest)), answerWithin: ms(Math.max(0.2, gridFor(heard.slowest))),
      values: [{ table: fit.table, address: fit.address, type: fit.type, ...(fit.order !== 'ABCD' && { order: fit.order }), ...(fit.scale !== 1 && { scale: fit.scale }) }],
    },
    unit: fit.unit,
    unitKnown: o.wanted.unit !== undefined,
    ...rangeOf(o.wanted, Math.max(0, ...fit.pressures)),
    remarks: {
      addressBase: 'addresses as they go over the line',
      every: `the slowest answer took ${ms(heard.slowest)}`,
      ...(whole && o.wanted.expect === undefined && { [fit.scale === 1 ? 'type' : 'scale']: 'a whole number does not show where its decimal sign is: compare with the display' }),
    },
  };
}
